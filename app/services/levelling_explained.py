"""Why an answer changes what it does, worked out once while it is looked at."""

import threading

from app.core.fitting.answer import Answer
from app.core.fitting.explain import Explained, explain


class _Keeper:
    """The answer that was explained last in this process, and the lock that lets one thread at a time do the next."""

    kept: tuple[Answer, Explained] | None = None
    explaining = threading.Lock()


def explain_answer(answer: Answer) -> Explained:
    """Return what an answer changes and why; the same one again for the same answer.

    Args:
        answer: An answer, the same object as long as it is the same answer on the same day.
    """
    kept = _Keeper.kept
    if kept is None or kept[0] is not answer:
        with _Keeper.explaining:
            kept = _Keeper.kept
            if kept is None or kept[0] is not answer:
                kept = _Keeper.kept = (answer, explain(answer))
    return kept[1]
