"""Numbers that stand on paper: those of trays and of sowings' keys. None is given again to something else."""

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from app.core.words import NumberKind
from app.storage.models import LastNumber, Sowing, Tray

KEY_LETTER = "S"


def last_number(session: Session, kind: NumberKind) -> int:
    """Return the highest number of a kind that was ever given or is in use; 0 where there was none.

    Whoever gives the next one calls `hold_writes` before.
    """
    noted = session.get(LastNumber, kind)
    return max(0 if noted is None else noted.last, _IN_USE[kind](session))


def note_numbers(session: Session) -> None:
    """Remember the highest numbers that are in use; whoever takes any out of use calls it before."""
    for kind, in_use in _IN_USE.items():
        highest = in_use(session)
        noted = session.get(LastNumber, kind)
        if noted is None and highest:
            session.add(LastNumber(kind=kind, last=highest))
        elif noted is not None and noted.last < highest:
            noted.last = highest
    session.flush()


def forget_numbers(session: Session) -> None:
    """Begin at 1 again, or above what is in use: what had numbers was invented and stands on nobody's labels."""
    session.execute(delete(LastNumber))


def _highest_key(session: Session) -> int:
    keys = session.scalars(select(Sowing.name).where(Sowing.name.like(f"{KEY_LETTER}-%")))
    return max((int(key[2:]) for key in keys if key[2:].isdecimal() and key.isascii()), default=0)


def _highest_tray(session: Session) -> int:
    return session.scalar(select(func.max(Tray.number))) or 0


_IN_USE = {NumberKind.SOWING: _highest_key, NumberKind.TRAY: _highest_tray}
