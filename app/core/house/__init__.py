"""What the garden's office needs: labels, letters, addresses, which backups are kept."""
