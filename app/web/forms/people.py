"""Signing in and one-time links."""

from typing import Any

from flask_wtf import FlaskForm
from wtforms import BooleanField, HiddenField, PasswordField, StringField

from app.core.limits import NAME_LETTERS
from app.services.passphrases import MOST_LETTERS
from app.web.forms.fields import GardenForm, TextField


class PassphraseField(PasswordField):
    """A passphrase as it is typed: what is in it is nobody's business but its length."""

    def __init__(self, label: str, *, autocomplete: str, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field; `autocomplete` tells the browser's own store which one is asked for."""
        super().__init__(label, render_kw={"autocomplete": autocomplete}, **kwargs)

    unit_words = said = ""
    may_be_empty = False


class SignInForm(FlaskForm):
    """Sign in."""

    name = StringField("Name", render_kw={"autocomplete": "username", "maxlength": NAME_LETTERS})
    passphrase = PassphraseField("Passphrase", autocomplete="current-password")
    own_device = BooleanField(
        "This is my own phone or computer",
        description="You stay signed in here. Leave it empty where others use the device too.",
    )
    next = HiddenField()


class SlipForm(GardenForm):
    """Choose a passphrase by a one-time link."""

    name = TextField("Your name", longest=NAME_LETTERS, description="You sign in with it.")
    passphrase = PassphraseField(
        "Passphrase",
        autocomplete="new-password",
        description="At least 10 letters; three or four words are easy to remember.",
    )
    again = PassphraseField("The same once more", autocomplete="new-password")
    own_device = BooleanField("This is my own phone or computer", description="You stay signed in here.")

    def validate_again(self, field: PasswordField) -> None:
        """Refuse two that differ."""
        if (field.data or "") != (self.passphrase.data or ""):
            field.errors = [*field.errors, "The two differ. Type the same passphrase twice."]


LONGEST_PASSPHRASE = MOST_LETTERS
