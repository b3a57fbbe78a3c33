"""From the plan to trays with numbers, cells and positions, and what becomes of those that are dealt."""
