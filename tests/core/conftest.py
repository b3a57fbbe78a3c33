"""How many gardens, tables and packings the properties are tried on."""

from hypothesis import settings

# No deadline: the first solve of a packing loads the solver. The examples are the same on every machine.
settings.register_profile("core", max_examples=100, deadline=None, derandomize=True, database=None)
settings.load_profile("core")
