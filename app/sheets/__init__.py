"""What leaves as words or as a file: pages, PDF and CSV say things the same way."""
