"""The fixed words of the method, as they stand in garden files and in the database."""

from enum import StrEnum


class Hardiness(StrEnum):
    """How much frost a crop bears."""

    VERY_HARDY = "very hardy"
    HARDY = "hardy"
    HALF_HARDY = "half-hardy"
    TENDER = "tender"
    VERY_TENDER = "very tender"


class Place(StrEnum):
    """A kind of space; the order is the order of the ledger's columns."""

    HEAT = "heat"
    LAMP = "lamp"
    WINDOW = "window"
    HARDENING = "hardening"


class Light(StrEnum):
    """Where a crop stands for light."""

    LAMP = "lamp"
    WINDOW = "window"


class CellState(StrEnum):
    """What is in a cell; a cell that is kept for a sowing is empty until it is sown."""

    EMPTY = "empty"
    SOWN = "sown"
    UP = "up"
    POTTED_ON = "potted on"
    OUT = "out"
    LOST = "lost"


class LevellingState(StrEnum):
    """What became of a levelling."""

    RUNNING = "running"
    FINISHED = "finished"
    STOPPED = "stopped"
    FAILED = "failed"
    ACCEPTED = "accepted"
    TAKEN_BACK = "taken back"
    THROWN_AWAY = "thrown away"


class Role(StrEnum):
    """What a person may do: everything, or their own part."""

    COORDINATOR = "coordinator"
    MEMBER = "member"


class NumberKind(StrEnum):
    """What has numbers that stand on paper."""

    SOWING = "sowing"
    TRAY = "tray"


class SlipKind(StrEnum):
    """What a one-time link is for."""

    FIRST = "first"
    INVITATION = "invitation"
    RESET = "reset"


class Via(StrEnum):
    """Which way a change came in."""

    PAGE = "page"
    BENCH = "bench"
    COMMAND = "command"
    PROGRAM = "program"


class LogKind(StrEnum):
    """What an entry of the log tells of a sowing, in the order of its life."""

    SOWN = "sown"
    UP = "up"
    THINNED = "thinned"
    POTTED_ON = "potted on"
    LOST = "lost"
    HANDED_OUT = "handed out"
    PLANTED_OUT = "planted out"


class MailSecurity(StrEnum):
    """How the connection to a mail server is protected."""

    TLS = "tls"
    STARTTLS = "starttls"
    NONE = "none"


class Tick(StrEnum):
    """A task that is ticked off without a count."""

    LOOK = "look"
    UNCOVER = "uncover"
    HARDEN = "harden"


class Cause(StrEnum):
    """What plants were lost to."""

    DAMPING_OFF = "damping off"
    DRIED_OUT = "dried out"
    LEGGY = "leggy"
    PESTS = "pests"
    MICE = "mice"
    DROPPED = "dropped"
    COLD = "cold"
    UNKNOWN = "unknown"


class CountedFrom(StrEnum):
    """Where days to maturity begin."""

    SEED = "seed"
    TRANSPLANT = "transplant"


class Transplanting(StrEnum):
    """How a crop takes being moved to another container."""

    EASY = "easy"
    CAREFUL = "careful"
    RESENTS = "resents"


class Origin(StrEnum):
    """Where a seed lot came from."""

    BOUGHT = "bought"
    SAVED = "saved"
    GIFT = "gift"


class Units(StrEnum):
    """The units in which a garden reads its figures."""

    METRIC = "metric"
    US = "us"


class FrostSource(StrEnum):
    """Where the garden's frost dates come from."""

    TABLE = "table"
    DATES = "dates"
    STATION = "station"


class FrostLaw(StrEnum):
    """The law by which a station's record gives a date at a risk."""

    NORMAL = "normal"
    EMPIRICAL = "empirical"


class Side(StrEnum):
    """The half of the growing year a frost date belongs to."""

    SPRING = "spring"
    AUTUMN = "autumn"


class Weekday(StrEnum):
    """A day of the week, Monday first as in ISO 8601."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"

    @property
    def number(self) -> int:
        """0 for Monday to 6 for Sunday."""
        return list(Weekday).index(self)


class HeatMethod(StrEnum):
    """Which of the two cuts at the base of McMaster & Wilhelm (1997) a heat sum uses."""

    MEAN = "mean"
    EACH = "each"


PLACES: tuple[Place, ...] = tuple(Place)
HEAT, LAMP, WINDOW, HARDENING = range(len(PLACES))  # the places as indices into arrays
