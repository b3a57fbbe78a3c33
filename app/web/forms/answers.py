"""Yes, no, or not given."""

from typing import Any

from app.language import _
from app.web.forms.fields import ChoiceField

ANSWERS: dict[str | None, bool | None] = {"yes": True, "no": False, None: None}
WORDS: dict[bool | None, str | None] = {answer: word for word, answer in ANSWERS.items()}


class AnswerField(ChoiceField):
    """A choice of yes, no or nothing; the row keeps it as true, false or none."""

    def __init__(self, label: str, **kwargs: Any) -> None:  # noqa: ANN401 - as WTForms
        """Make the field."""
        super().__init__(label, [("yes", _("yes")), ("no", _("no"))], may_be_empty=True, **kwargs)

    def process_data(self, value: bool | None) -> None:  # noqa: FBT001 - as WTForms
        """Take the answer as the row keeps it."""
        self.data = WORDS[value]

    @property
    def answer(self) -> bool | None:
        """The answer as the row keeps it."""
        return ANSWERS[self.data]
