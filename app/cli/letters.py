"""What a server does beside its requests about the weekly letters."""

from collections.abc import Callable
from datetime import date

from app.core.work.work import work_of
from app.language import choose_language, speaking
from app.services.letters import WeeklyLetters
from app.services.mail import Letter
from app.services.plan import get_plan
from app.settings import Settings
from app.sheets.send_words import make_letter
from app.storage import Session
from app.storage.queries.feeds import list_rounds_of
from app.storage.queries.garden import find_garden
from app.storage.queries.letters import Recipient
from app.storage.queries.printing import find_public_address


def begin_letters(settings: Settings) -> WeeklyLetters | None:
    """Begin to send the weekly letters when they are due; None where today is fixed, and no week ever comes."""
    if settings.today is not None:
        return None
    settings.instance.mkdir(parents=True, exist_ok=True)
    return WeeklyLetters(settings.database_url, settings.instance, composer(settings.public_url))


def composer(public_url: str | None) -> Callable[[Session, Recipient, date], Letter | None]:
    """Return what makes somebody's letter of a week.

    Args:
        public_url: The program's address, if it is set from outside; else the one entered on its page is taken.
    """

    def compose(session: Session, who: Recipient, monday: date) -> Letter | None:
        plan = get_plan(session)
        entered = find_public_address(session)
        address = public_url or (None if entered is None else entered.address)
        garden = find_garden(session)
        with speaking(choose_language(who.language, garden.language if garden else None)):
            return make_letter(plan, who, monday, work_of(plan), list_rounds_of(session, who.grower_id), address)

    return compose
