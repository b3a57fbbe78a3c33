"""How backups are kept."""

from pathlib import Path

from app.core.house.retention import KEEP_DAYS, KEEP_MONTHS, KEEP_WEEKS, Keeping
from app.language import N_, _
from app.services.backups import BackupSettings
from app.web.forms.fields import GardenForm, TextField
from app.web.forms.numbers import WholeNumberField

LONGEST_PATH = 500


class FolderField(TextField):
    """The whole path of a folder on the computer on which the program runs; it need not be there now."""

    def read(self, text: str) -> str:
        """Return the path, or raise ValueError with what would be right."""
        path = Path(super().read(text))
        if not path.is_absolute():
            raise ValueError(_("Write the whole path of the folder, such as /media/stick/garden or E:\\garden."))
        if path.exists() and not path.is_dir():
            raise ValueError(_("This is a file. Write the path of a folder."))
        return str(path)


class BackupForm(GardenForm):
    """Set how many backups are kept, and where a second copy goes."""

    keep_days = WholeNumberField(N_("Days"), KEEP_DAYS, description=N_("The last backup of each of so many days."))
    keep_weeks = WholeNumberField(N_("Weeks"), KEEP_WEEKS, description=N_("And the last of each of so many weeks."))
    keep_months = WholeNumberField(N_("Months"), KEEP_MONTHS, description=N_("And the last of each of so many months."))
    second_folder = FolderField(
        N_("Second folder"),
        longest=LONGEST_PATH,
        may_be_empty=True,
        description=N_(
            "On a stick or another disk of the computer on which Traymates runs, such as /media/stick/garden. It "
            "gets a copy of each backup whenever it is there."
        ),
    )

    def check_folder(self, backups: Path) -> bool:
        """Tell whether the second folder is another one than that of the backups; if not, the field says so."""
        chosen = self.second_folder.data
        if chosen is None or Path(chosen).resolve() != backups.resolve():
            return True
        self.second_folder.errors = [
            _("The backups are in this folder already. Write another one, best on another disk.")
        ]
        return False

    def values(self) -> BackupSettings:
        """Return what was typed, once it is valid."""
        keeping = Keeping(days=self.keep_days.data, weeks=self.keep_weeks.data, months=self.keep_months.data)
        return BackupSettings(keeping=keeping, second_folder=self.second_folder.data)
