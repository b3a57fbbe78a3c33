"""One module of forms for each noun, on the fields in fields.py."""
