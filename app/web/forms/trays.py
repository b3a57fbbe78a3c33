"""Changes of trays by hand: marking as sown, another number, another position, exchanging sowings, starting."""

from collections.abc import Iterable

from wtforms import BooleanField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # the stubs are older

from app.core.limits import TRAY_NUMBER
from app.language import N_, _
from app.services.positions import Target
from app.web.forms.fields import ChoiceField, DayField, GardenForm
from app.web.forms.numbers import WholeNumberField


class FilledForm(GardenForm):
    """Mark a tray as sown, or its pots as potted into, on a day."""

    day = DayField(N_("Day"))


class NumberForm(GardenForm):
    """Give a tray another number."""

    new = WholeNumberField(
        N_("New number"),
        TRAY_NUMBER,
        description=N_("Of the tag that is stuck to it now. The old number is then free."),
    )


class MoveForm(GardenForm):
    """Put a tray on another position of its place."""

    others = N_("Its position")

    position = ChoiceField(N_("Position"))
    exchange = BooleanField(N_("Exchange with the tray that stands there"))

    def offer(self, groups: Iterable[tuple[str, Iterable[tuple[Target, str]]]]) -> None:
        """Set the positions that can be chosen, in groups that have a head each."""
        choices = [
            SelectChoice(_value(target), words, {}, head) for head, positions in groups for target, words in positions
        ]
        self.position.choices = [SelectChoice("", _("Choose …")), *choices]
        self.position.values = {choice.value for choice in choices}

    def target(self) -> Target:
        """Return the position that was chosen, once it is valid."""
        shelf_id, level, slot = map(int, self.position.data.split("-"))
        return Target(shelf_id=shelf_id, level=level, slot=slot)


class ExchangeForm(GardenForm):
    """Put a sowing into another tray that can take it, into free cells or in exchange for another sowing."""

    to = ChoiceField(N_("To"))

    def goal(self) -> tuple[int, int | None]:
        """Return the number of the tray, and the sowing that comes from there; None for none."""
        tray, _, sowing = self.to.data.partition("-")
        return int(tray), int(sowing) or None


class WishForm(GardenForm):
    """Put a sowing into the free cells of any tray, and be told why if it cannot go there."""

    number = WholeNumberField(
        N_("Number of the tray"),
        TRAY_NUMBER,
        description=N_("Into its free cells. If it cannot go there, you are told why."),
    )

    def goal(self) -> tuple[int, None]:
        """Return the number of the tray, and that no sowing comes from there."""
        return self.number.data, None


class StartForm(GardenForm):
    """Start an empty tray of a container on a day."""

    container_id = ChoiceField(N_("Container"), kind=int)
    day = DayField(N_("Day on which it is sown"))


def offer_value(tray: int, sowing_id: int | None) -> str:
    """Return what is sent for a tray and the sowing that comes from there."""
    return f"{tray}-{sowing_id or 0}"


def _value(target: Target) -> str:
    return f"{target.shelf_id}-{target.level}-{target.slot}"
