"""A form that could not be taken just now: its page gives back what was typed, to be sent again."""

from collections.abc import Callable, Iterable
from urllib.parse import urlsplit

from flask import render_template, request
from flask.typing import ResponseReturnValue

# Never given back: secrets, and the token that belongs to the page which is gone.
LEFT_OUT = frozenset({"csrf_token", "passphrase", "again", "old_passphrase", "pin"})
MOST_LETTERS = 200_000

Fields = list[tuple[str, str]]


def posted_fields() -> Fields:
    """Return what the form of this request holds, but for secrets.

    Nothing where it is huge, brought a file, which only the browser can send again, or came from elsewhere: another
    site could else have its own words stand in a form of ours.
    """
    if not _is_ours() or any(file.filename for file in request.files.values()):
        return []
    fields = [(name, value) for name, value in request.form.items(multi=True) if name not in LEFT_OUT]
    return fields if sum(len(name) + len(value) for name, value in fields) <= MOST_LETTERS else []


def kept_form_page(
    title: str,
    reason: str,
    status: int,
    *,
    fields: Iterable[tuple[str, str]] | None = None,
    path: str | None = None,
    render: Callable[..., str] = render_template,
) -> ResponseReturnValue:
    """Return a page that says why a form was not taken, and holds it to be sent again.

    Args:
        title: The page's heading.
        reason: One or two sentences: what happened, and that nothing was saved.
        status: The answer's status.
        fields: Names and values; by default those of this request.
        path: Where the form goes; by default where this request went.
        render: Makes the page from its template; by default with all that pages know of the garden.
    """
    fields = posted_fields() if fields is None else list(fields)
    path = request.full_path.rstrip("?") if path is None else path
    page = render("errors/kept_form.html", title=title, reason=reason, fields=fields, path=path)
    return page, status


def _is_ours() -> bool:
    """Return whether the form was sent from one of our own pages, as far as the browser tells."""
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None:
        return site == "same-origin"
    sent_from = request.headers.get("Origin") or request.headers.get("Referer")
    try:
        return sent_from is not None and urlsplit(sent_from).netloc == request.host
    except ValueError:  # it is no address
        return False
