"""Every failure of a command as one plain sentence and an exit status."""

import errno
from typing import Any

import click

from app.core.errors import CoreError
from app.services.backups import BackupError
from app.services.folder import FolderError, FolderInUseError, NotEmptyError
from app.settings import SettingsError
from app.storage.errors import DatabaseError
from app.storage.opening import AddressError
from app.storage.queries.plan import NoGardenError
from app.storage.queries.record import NoRecordError

DATA_AT_FAULT = 1
WRONG_USAGE = 2


class Failure(click.ClickException):
    """A message and an exit status."""

    exit_code = DATA_AT_FAULT

    def show(self, file: Any = None) -> None:  # noqa: ANN401 - as click has it
        """Print the message as it stands."""
        click.echo(self.message, file=file, err=True)


class UsageFailure(Failure):
    """A message about how the command was called."""

    exit_code = WRONG_USAGE


class Commands(click.Group):
    """A group of commands that never ends in a traceback over what can go wrong outside the program."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - as click has it
        """Run a command."""
        try:
            return super().invoke(ctx)
        except (AddressError, FolderInUseError, NotEmptyError, SettingsError) as error:
            raise UsageFailure(str(error)) from error
        except (BackupError, FolderError, DatabaseError, CoreError) as error:
            raise Failure(str(error)) from error
        except NoGardenError as error:
            message = "The database holds no garden yet. Load one with `traymates load FOLDER`, or `traymates demo`."
            raise Failure(message) from error
        except NoRecordError as error:
            raise Failure("The garden has no station's record. Load one with `traymates load FILE`.") from error
        except OSError as error:
            if error.errno == errno.EPIPE:  # whoever read the output has enough
                raise
            place = f" {error.filename}" if error.filename else ""
            raise Failure(f"The file or folder{place} cannot be used: {error.strerror}.") from error
