"""Errors that the core raises; each names what was wrong and what would be right."""


class CoreError(ValueError):
    """A rule of the method was broken by what was given."""


class OutOfRangeError(CoreError):
    """An argument lies outside the range in which the rule holds."""

    def __init__(self, argument: str, value: object, allowed: str) -> None:
        """Name the argument, the value found and what is allowed."""
        super().__init__(f"{argument} is {value}; it must be {allowed}")
        self.argument = argument
        self.value = value
        self.allowed = allowed


class FrostTableError(CoreError):
    """Frost dates that cannot be read as a table of chances."""


class NoFrostDateError(CoreError):
    """Freezes come too rarely at this risk for a date to exist."""


def require_within(argument: str, value: float, low: float, high: float) -> None:
    """Raise OutOfRangeError unless low <= value <= high."""
    if not low <= value <= high:
        raise OutOfRangeError(argument, value, f"from {low:g} to {high:g}")
