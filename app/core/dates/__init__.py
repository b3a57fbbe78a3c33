"""When it freezes, when seed comes up, and the dates of every sowing that follow."""
