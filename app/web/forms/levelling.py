"""How long to look for a plan that fits, and one shelf more to look with."""

from app.core.limits import POSITIONS, Bounds
from app.core.words import Place
from app.language import N_
from app.sheets.tray_words import PLACE_WORDS
from app.web.forms.fields import ChoiceField, GardenForm
from app.web.forms.numbers import WholeNumberField

# Time to look, and its words. [s]
TIMES = (
    (10, N_("10 seconds")),
    (30, N_("30 seconds")),
    (60, N_("1 minute")),
    (300, N_("5 minutes")),
    (1200, N_("20 minutes")),
)
USUAL = 30


class StartForm(GardenForm):
    """Look for a plan that fits."""

    seconds = ChoiceField(
        N_("Look for at most"),
        TIMES,
        kind=int,
        default=USUAL,
        description=N_("It ends sooner once nothing better can be found. Stopped early, it keeps the best so far."),
    )


class ShelfForm(StartForm):
    """Look for a plan that fits with one shelf more."""

    place = ChoiceField(N_("Place"), [(place.value, PLACE_WORDS[place]) for place in Place], kind=Place)
    positions = WholeNumberField(
        N_("Positions on it"), Bounds(1, POSITIONS.high), blank=N_("Enter how many trays would stand on it.")
    )
