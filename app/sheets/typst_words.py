"""Words that stand in a layout of a sheet, as `t("page")`: found there, to be translated."""

import re
from collections.abc import Iterator
from typing import IO

_WORDS = re.compile(r'\bt\("((?:[^"\\]|\\.)*)"')


def find_words(source: str) -> list[str]:
    """Return the words of a layout in its order, each once."""
    return list(dict.fromkeys(_unescaped(found) for found in _WORDS.findall(source)))


def extract(
    fileobj: IO[bytes],
    keywords: object,  # noqa: ARG001 - as Babel calls it
    comment_tags: object,  # noqa: ARG001 - as Babel calls it
    options: object,  # noqa: ARG001 - as Babel calls it
) -> Iterator[tuple[int, str, str, list[str]]]:
    """Give the words of a layout to Babel: line, function, words and comments."""
    for number, line in enumerate(fileobj.read().decode().splitlines(), 1):
        for found in _WORDS.findall(line):
            yield number, "", _unescaped(found), []


def _unescaped(words: str) -> str:
    return words.replace('\\"', '"').replace("\\\\", "\\")
