"""Trays, shelves and positions: what stands where, and how full it is. It knows no crop."""
