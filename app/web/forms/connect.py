"""The garden's Wi-Fi, as phones join it."""

from app.core.house.wifi import LONGEST_NAME_BYTES, LONGEST_PASSPHRASE, require_wifi_name, require_wifi_passphrase
from app.language import N_
from app.web.forms.fields import GardenForm, TextField


class WifiNameField(TextField):
    """The name of a wireless network, as it is, blanks and all."""

    def clean(self, text: str) -> str:
        """Return the text without blanks around it."""
        return text.strip()

    def read(self, text: str) -> str:
        """Return the name, or raise ValueError with what would be right."""
        text = super().read(text)
        require_wifi_name(text)
        return text


class WifiPassphraseField(TextField):
    """The passphrase of a wireless network, as it is, blanks and all."""

    def clean(self, text: str) -> str:
        """Return the text as it was typed; a blank at its end belongs to it."""
        return text

    def read(self, text: str) -> str:
        """Return the passphrase, or raise ValueError with what would be right."""
        require_wifi_passphrase(text)
        return text


class WifiForm(GardenForm):
    """Say how phones join the garden's Wi-Fi."""

    wifi_name = WifiNameField(
        N_("Name of the Wi-Fi"),
        longest=LONGEST_NAME_BYTES,
        may_be_empty=True,
        description=N_(
            "As phones list it, with its capitals. Not a guest Wi-Fi: that keeps phones from this computer."
        ),
    )
    wifi_passphrase = WifiPassphraseField(
        N_("Its passphrase"),
        longest=LONGEST_PASSPHRASE + 1,
        may_be_empty=True,
        description=N_(
            "It stands on the sheet for the door, so whoever comes in can join. Left empty for an open Wi-Fi."
        ),
    )
