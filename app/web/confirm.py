"""The page that asks before something goes that cannot be put back."""

from flask import render_template
from flask.typing import ResponseReturnValue


def ask_first(question: str, what: str, words: str, back: str) -> ResponseReturnValue:
    """Return the page that asks; its button sends the same address as a form.

    Args:
        question: Its heading, such as `Withdraw the offer?`
        what: What goes, and what stays.
        words: Of the button.
        back: Where whoever changes their mind goes on.
    """
    return render_template("confirm.html", question=question, what=what, words=words, back=back)
