"""How long to look for a plan that fits, and one shelf more to look with."""

from app.core.limits import POSITIONS, Bounds
from app.core.words import Place
from app.sheets.tray_words import PLACE_WORDS
from app.web.forms.fields import ChoiceField, GardenForm, WholeNumberField

# Time to look, and its words. [s]
TIMES = ((10, "10 seconds"), (30, "30 seconds"), (60, "1 minute"), (300, "5 minutes"), (1200, "20 minutes"))
USUAL = 30


class StartForm(GardenForm):
    """Look for a plan that fits."""

    seconds = ChoiceField(
        "Look for at most",
        TIMES,
        kind=int,
        default=USUAL,
        description="It ends sooner once nothing better can be found. Stopped early, it keeps the best so far.",
    )


class ShelfForm(StartForm):
    """Look for a plan that fits with one shelf more."""

    place = ChoiceField("Place", [(place.value, PLACE_WORDS[place]) for place in Place], kind=Place)
    positions = WholeNumberField(
        "Positions on it", Bounds(1, POSITIONS.high), blank="Enter how many trays would stand on it."
    )
