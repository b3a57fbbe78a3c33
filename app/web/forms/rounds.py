"""Care rounds: sharing them out, giving one to somebody, and saying that one was done."""

from collections.abc import Iterable

from app.core.limits import NOTE_LETTERS, Bounds
from app.language import N_, _
from app.services.rounds import BY_HAND_DAYS, MOST_BY_HAND_DAYS
from app.web.forms.deal import AddressForm
from app.web.forms.fields import ChoiceField, DayField, GardenForm, LongTextField, ManyChoiceField
from app.web.forms.numbers import WholeNumberField


class ShareForm(AddressForm):
    """How rounds are shared out."""

    every = WholeNumberField(
        N_("Shelves without pans can wait"),
        Bounds(1, MOST_BY_HAND_DAYS),
        description=N_("From one watering to the next. Shelves with wick pans wait as long as the pans last."),
    )
    without = ManyChoiceField(N_("Takes no part"), [])

    def offer(self, growers: Iterable[tuple[int, str]]) -> None:
        """Set the growers who may be left out."""
        self.without.choices = [(str(grower), name) for grower, name in growers]

    def asked(self) -> tuple[int, frozenset[int]]:
        """Return the days that a shelf without pans can wait, and the growers who are left out; the usual if wrong."""
        every = self.every.data if isinstance(self.every.data, int) and not self.every.errors else BY_HAND_DAYS
        left_out = () if self.without.errors else self.without.data or ()
        return every, frozenset(int(grower) for grower in left_out)


class GiveForm(GardenForm):
    """Give a round to somebody, or let two exchange theirs."""

    others = N_("Whose round it is")

    grower_id = ChoiceField(N_("Give it to"), kind=int, may_be_empty=True, empty_words=N_("nobody chosen"))
    other_id = ChoiceField(
        N_("Or exchange it with this round"), kind=int, may_be_empty=True, empty_words=N_("no exchange")
    )

    def validate(self, extra_validators: object = None) -> bool:
        """Tell whether one of the two was chosen, and not both."""
        is_right = super().validate(extra_validators)
        if is_right and (self.grower_id.data is None) == (self.other_id.data is None):
            self.grower_id.errors = [_("Choose either who does it, or the round that it is exchanged with.")]
            return False
        return is_right


class DoneForm(GardenForm):
    """Say that a round was done."""

    others = N_("Whether the round is done")

    done_on = DayField(N_("Done on"))
    done_by_id = ChoiceField(N_("Done by"), kind=int, may_be_empty=True, empty_words=N_("not told"))
    note = LongTextField(
        N_("Noticed"),
        may_be_empty=True,
        longest=NOTE_LETTERS,
        description=N_("What the next one should know: dry shelves, mould, pests, something broken."),
    )
