"""The mail server, and one's own address for the weekly letter."""

from typing import Any

from app.core.house.mail import LONGEST_ADDRESS, read_mail_address, read_mail_host
from app.core.limits import Bounds
from app.core.words import MailSecurity
from app.language import N_, _
from app.network import is_loopback
from app.services.letters import MailValues
from app.web.forms.fields import ChoiceField, GardenForm, TextField
from app.web.forms.numbers import WholeNumberField
from app.web.forms.people import PassphraseField

PORT = Bounds(1, 65535)
SECURITIES = (
    (MailSecurity.TLS.value, N_("TLS, mostly port 465")),
    (MailSecurity.STARTTLS.value, N_("STARTTLS, mostly port 587")),
    (MailSecurity.NONE.value, N_("none, on one’s own network")),
)


class MailAddressField(TextField):
    """An address for mail."""

    def __init__(self, label: str, **kwargs: object) -> None:
        """Make the field."""
        super().__init__(label, longest=LONGEST_ADDRESS, render_kw={"inputmode": "email"}, **kwargs)

    def read(self, text: str) -> str:
        """Return the address, or raise ValueError with what would be right."""
        return read_mail_address(super().read(text))


class MailHostField(TextField):
    """The name of a mail server."""

    def read(self, text: str) -> str:
        """Return the name, or raise ValueError with what would be right."""
        return read_mail_host(super().read(text))


class MailForm(GardenForm):
    """Set the mail server through which weekly letters go."""

    mail_host = MailHostField(
        N_("Mail server"),
        longest=LONGEST_ADDRESS,
        may_be_empty=True,
        description=N_("Its name. Empty: no letters are sent."),
    )
    mail_port = WholeNumberField(N_("Port"), PORT, may_be_empty=True)
    mail_security = ChoiceField(
        N_("How the connection is protected"),
        SECURITIES,
        kind=MailSecurity,
        may_be_empty=True,
        empty_words=N_("not chosen"),
    )
    mail_user = TextField(
        N_("Name to sign in with"),
        longest=LONGEST_ADDRESS,
        may_be_empty=True,
        description=N_("Empty: none is asked for."),
    )
    passphrase = PassphraseField(
        N_("Passphrase of the mail account"),
        description=N_("Never shown again. Empty: the one that is set stays, as long as server and name do."),
    )
    mail_from = MailAddressField(
        N_("Sender’s address"), may_be_empty=True, description=N_("Where answers go, such as seedlings@example.org.")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Take what a form takes; what goes with a server is not said to be optional."""
        super().__init__(*args, **kwargs)
        for field in (self.mail_port, self.mail_from):
            field.may_be_empty = False

    def check(self, *, has_passphrase: bool) -> bool:
        """Tell whether the parts go together; if not, the fields say so.

        Args:
            has_passphrase: A passphrase is stored for the server and name that were typed.
        """
        if self.mail_host.data is None:
            return True
        wanted = ((self.mail_port, _("Enter the port.")), (self.mail_security, _("Choose how it is protected.")))
        for field, words in (*wanted, (self.mail_from, _("Enter the address that letters come from."))):
            if field.data is None:
                field.errors = [words]
        if self.mail_user.data and not self.passphrase.data and not has_passphrase:
            self.passphrase.errors = [_("Enter the passphrase: server or name are new.")]
        if self.passphrase.data and not self.mail_user.data:
            self.mail_user.errors = [_("Enter the name that this passphrase belongs to.")]
        is_open = self.mail_security.data is MailSecurity.NONE
        if is_open and self.mail_user.data and not is_loopback(self.mail_host.data):
            self.mail_security.errors = [_("A passphrase is not sent over an open connection. Choose TLS or STARTTLS.")]
        return not self.errors

    def values(self) -> MailValues:
        """Return what was typed, once it is valid; without a server there is nothing else either."""
        if self.mail_host.data is None:
            return MailValues(host=None, port=None, security=None, user=None, passphrase=None, sender=None)
        return MailValues(
            host=self.mail_host.data,
            port=self.mail_port.data,
            security=self.mail_security.data,
            user=self.mail_user.data,
            passphrase=(self.passphrase.data or None) if self.mail_user.data else None,
            sender=self.mail_from.data,
        )


class OwnAddressForm(GardenForm):
    """Say where one's own weekly letter goes."""

    email = MailAddressField(
        N_("Your address for mail"), may_be_empty=True, description=N_("Empty: you get no letter. Nobody else sees it.")
    )


class TestLetterForm(GardenForm):
    """Say where a test letter goes."""

    to = MailAddressField(N_("Address for a test letter"))
