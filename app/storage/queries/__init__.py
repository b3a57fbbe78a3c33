"""What is read from the database, one noun a module."""
