"""The address by which phones reach the program; that of a request may be known to this machine alone."""

from app.extensions import db
from app.storage.queries.printing import find_public_address
from app.web.context import current_settings


def current_public_address() -> str | None:
    """Return the address for what is printed: PUBLIC_URL, else the one entered on its page, else None."""
    settings = current_settings()
    if settings.public_url is not None:
        return settings.public_url
    row = find_public_address(db.session)
    return None if row is None else row.address
