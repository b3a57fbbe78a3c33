"""Signing in, one-time links, accounts and the bench tablet."""

from typing import Any

from flask_wtf import FlaskForm
from wtforms import BooleanField, HiddenField, PasswordField, StringField

from app.core.limits import NAME_LETTERS
from app.core.words import Role
from app.services.leaving import WithGrower
from app.services.passphrases import PIN_DIGITS
from app.web.forms.fields import ChoiceField, FormMeta, GardenForm, TextField

TWICE = "The two differ. Type the same passphrase twice."
WHAT_IS_GOOD = "At least 10 letters; three or four words are easy to remember."
ROLES = (
    (Role.MEMBER.value, "Member: their own sowings, and what is due"),
    (Role.COORDINATOR.value, "Coordinator: everything, and who may do what"),
)
WITH_GROWER = (
    (WithGrower.KEEP.value, "It stays as it is: they are still a grower here"),
    (WithGrower.HIDE.value, "It stays for its sowings, without name, contact and days"),
    (WithGrower.REMOVE.value, "It is removed too; only if it has no sowings"),
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

    name = StringField("Name", render_kw={"autocomplete": "username", "maxlength": NAME_LETTERS})
    passphrase = PassphraseField("Passphrase", autocomplete="current-password")
    own_device = BooleanField(
        "This is my own phone or computer",
        description="You stay signed in here. Leave it empty where others use the device too.",
    )
    next = HiddenField()


class SlipForm(GardenForm):
    """Choose a passphrase by a one-time link."""

    name = TextField(
        "Your name", longest=NAME_LETTERS, description="You sign in with it.", blank="Enter the name to sign in with."
    )
    passphrase = PassphraseField(
        "Passphrase",
        autocomplete="new-password",
        description=WHAT_IS_GOOD,
    )
    again = PassphraseField("The same once more", autocomplete="new-password")
    own_device = BooleanField("This is my own phone or computer", description="You stay signed in here.")

    def validate_again(self, field: PasswordField) -> None:
        """Refuse two that differ."""
        if (field.data or "") != (self.passphrase.data or ""):
            field.errors = [*field.errors, TWICE]


class PersonForm(GardenForm):
    """Invite somebody, or change what a coordinator sets of them."""

    name = TextField("Name", longest=NAME_LETTERS, description="They sign in with it; capitals do not matter.")
    role = ChoiceField("What they may do", ROLES, kind=Role)
    grower_id = ChoiceField(
        "Which grower they are",
        kind=int,
        may_be_empty=True,
        empty_words="none",
        description="A member sees and changes the sowings of this grower.",
    )


class NameForm(GardenForm):
    """Change one's own name."""

    name = TextField("Name", longest=NAME_LETTERS, description="You sign in with it; capitals do not matter.")


class NewPassphraseForm(GardenForm):
    """Choose another passphrase."""

    old_passphrase = PassphraseField("Present passphrase", autocomplete="current-password")
    passphrase = PassphraseField("New passphrase", autocomplete="new-password", description=WHAT_IS_GOOD)
    again = PassphraseField("The same once more", autocomplete="new-password")

    def validate_again(self, field: PasswordField) -> None:
        """Refuse two that differ."""
        if (field.data or "") != (self.passphrase.data or ""):
            field.errors = [*field.errors, TWICE]


class PinField(PassphraseField):
    """A PIN as it is typed, for which a tablet shows its number keys."""

    def __init__(self, label: str, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field."""
        keys = {"autocomplete": "off", "inputmode": "numeric", "maxlength": PIN_DIGITS[-1]}
        super().__init__(label, render_kw=keys, **kwargs)


class NewPinForm(GardenForm):
    """Choose a PIN for the bench tablet."""

    old_passphrase = PassphraseField("Your passphrase", autocomplete="current-password")
    pin = PinField("PIN", description="4 to 8 digits, not all the same and not in a row.")


class PinForm(FlaskForm):
    """Say who one is at the bench tablet."""

    Meta = FormMeta

    pin = PinField("PIN")


class EndTabletForm(FlaskForm):
    """Make the bench tablet a plain device again."""

    Meta = FormMeta

    name = StringField("Coordinator", render_kw={"autocomplete": "off", "maxlength": NAME_LETTERS})
    passphrase = PassphraseField("Passphrase", autocomplete="off")


class EraseForm(GardenForm):
    """Erase somebody."""

    with_grower = ChoiceField("The grower that they are", WITH_GROWER, kind=WithGrower)


class VisitorsForm(GardenForm):
    """Say whether visitors may look."""

    open_to_visitors = BooleanField(
        "Whoever is on this network may look without signing in",
        description="At the shelf ledger and the weekly sheet alone. Names of growers stand on the weekly sheet.",
    )
