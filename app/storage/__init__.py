"""The only package that builds SQL: models, queries, and the garden folder in and out."""
