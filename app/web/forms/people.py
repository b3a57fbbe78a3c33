"""Signing in, one-time links, accounts and the bench tablet."""

from typing import Any

from flask_wtf import FlaskForm
from wtforms import BooleanField, HiddenField, PasswordField, StringField

from app.core.limits import NAME_LETTERS
from app.core.words import Role
from app.language import N_, _
from app.services.leaving import WithGrower
from app.services.passphrases import PIN_DIGITS
from app.web.forms.fields import ChoiceField, FormMeta, GardenForm, TextField

TWICE = N_("The two differ. Type the same passphrase twice.")
WHAT_IS_GOOD = N_("At least 10 letters; three or four words are easy to remember.")
ROLES = (
    (Role.MEMBER.value, N_("Member: their own sowings, and what is due")),
    (Role.COORDINATOR.value, N_("Coordinator: everything, and who may do what")),
)
WITH_GROWER = (
    (WithGrower.KEEP.value, N_("It stays as it is: they are still a grower here")),
    (WithGrower.HIDE.value, N_("It stays for its sowings, without name, contact and days")),
    (WithGrower.REMOVE.value, N_("It is removed too; only if it has no sowings")),
)


class PassphraseField(PasswordField):
    """A passphrase as it is typed: what is in it is nobody's business but its length."""

    def __init__(self, label: str, *, autocomplete: str = "off", **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `autocomplete` tells the browser's own store which one is asked for."""
        super().__init__(label, **({"render_kw": {"autocomplete": autocomplete}} | kwargs))

    unit_words = said = ""
    may_be_empty = False


class SignInForm(FlaskForm):
    """Sign in."""

    Meta = FormMeta

    name = StringField(N_("Name"), render_kw={"autocomplete": "username", "maxlength": NAME_LETTERS})
    passphrase = PassphraseField(N_("Passphrase"), autocomplete="current-password")
    own_device = BooleanField(
        N_("This is my own phone or computer"),
        description=N_("You stay signed in here. Leave it empty where others use the device too."),
    )
    next = HiddenField()


class SlipForm(GardenForm):
    """Choose a passphrase by a one-time link."""

    name = TextField(
        N_("Your name"),
        longest=NAME_LETTERS,
        description=N_("You sign in with it."),
        blank=N_("Enter the name to sign in with."),
    )
    passphrase = PassphraseField(
        N_("Passphrase"),
        autocomplete="new-password",
        description=WHAT_IS_GOOD,
    )
    again = PassphraseField(N_("The same once more"), autocomplete="new-password")
    own_device = BooleanField(N_("This is my own phone or computer"), description=N_("You stay signed in here."))

    def validate_again(self, field: PasswordField) -> None:
        """Refuse two that differ."""
        if (field.data or "") != (self.passphrase.data or ""):
            field.errors = [*field.errors, _(TWICE)]


class PersonForm(GardenForm):
    """Invite somebody, or change what a coordinator sets of them."""

    name = TextField(N_("Name"), longest=NAME_LETTERS, description=N_("They sign in with it; capitals do not matter."))
    role = ChoiceField(N_("What they may do"), ROLES, kind=Role)
    grower_id = ChoiceField(
        N_("Which grower they are"),
        kind=int,
        may_be_empty=True,
        empty_words=N_("none"),
        description=N_("A member sees and changes the sowings of this grower."),
    )


class NameForm(GardenForm):
    """Change one's own name."""

    name = TextField(N_("Name"), longest=NAME_LETTERS, description=N_("You sign in with it; capitals do not matter."))


class NewPassphraseForm(GardenForm):
    """Choose another passphrase."""

    old_passphrase = PassphraseField(N_("Present passphrase"), autocomplete="current-password")
    passphrase = PassphraseField(N_("New passphrase"), autocomplete="new-password", description=WHAT_IS_GOOD)
    again = PassphraseField(N_("The same once more"), autocomplete="new-password")

    def validate_again(self, field: PasswordField) -> None:
        """Refuse two that differ."""
        if (field.data or "") != (self.passphrase.data or ""):
            field.errors = [*field.errors, _(TWICE)]


class PinField(PassphraseField):
    """A PIN as it is typed, for which a tablet shows its number keys."""

    def __init__(self, label: str, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field."""
        keys = {"autocomplete": "off", "inputmode": "numeric", "maxlength": PIN_DIGITS[-1]}
        super().__init__(label, render_kw=keys, **kwargs)


class NewPinForm(GardenForm):
    """Choose a PIN for the bench tablet."""

    old_passphrase = PassphraseField(N_("Your passphrase"), autocomplete="current-password")
    pin = PinField(N_("PIN"), description=N_("4 to 8 digits, not all the same and not in a row."))


class PinForm(FlaskForm):
    """Say who one is at the bench tablet."""

    Meta = FormMeta

    pin = PinField(N_("PIN"))


class EndTabletForm(FlaskForm):
    """Make the bench tablet a plain device again."""

    Meta = FormMeta

    name = StringField(N_("Coordinator"), render_kw={"autocomplete": "off", "maxlength": NAME_LETTERS})
    passphrase = PassphraseField(N_("Passphrase"), autocomplete="off")


class EraseForm(GardenForm):
    """Erase somebody."""

    with_grower = ChoiceField(N_("The grower that they are"), WITH_GROWER, kind=WithGrower)


class VisitorsForm(GardenForm):
    """Say whether visitors may look."""

    open_to_visitors = BooleanField(
        N_("Whoever is on this network may look without signing in"),
        description=N_("At the shelf ledger and the weekly sheet alone. Names of growers stand on the weekly sheet."),
    )
