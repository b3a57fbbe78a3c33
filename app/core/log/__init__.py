"""The log: what was written down, what it comes to, and what it teaches."""
