"""Reads PDF as people do: the text of each page, and where each word stands."""

import html
import re
import shutil
import subprocess
from typing import NamedTuple

import pytest

from tests.conftest import STRICT

POINTS_PER_MM = 72 / 25.4


class Word(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float
    text: str


class Leaf(NamedTuple):
    width: float
    height: float
    words: list[Word]


def run(*arguments, pdf):
    if shutil.which("pdftotext") is None:
        message = "pdftotext is not there; Debian has it in poppler-utils"
        (pytest.fail if STRICT else pytest.skip)(message)
    command = ["pdftotext", "-enc", "UTF-8", *arguments, "-", "-"]
    return subprocess.run(command, input=pdf, capture_output=True, check=True, timeout=60).stdout.decode()


def pages(pdf):
    """Return the text of each page, cell by cell in the order of reading."""
    return run("-raw", pdf=pdf).split("\f")[:-1]


def squashed(text):
    """Return text without the blanks and breaks that lines bring, to be searched."""
    return re.sub(r"[\s\u200b]+", "", text)


def text_of(pdf):
    """Return the whole text, squashed."""
    return squashed("".join(pages(pdf)))


def leaves(pdf):
    """Return the size of each page and its words with their boxes. [pt]"""
    found = []
    for line in run("-bbox", pdf=pdf).splitlines():
        numbers = [float(number) for number in re.findall(r'="([-\d.]+)"', line)]
        if "<page " in line:
            found.append(Leaf(numbers[0], numbers[1], []))
        elif "<word " in line:
            found[-1].words.append(Word(*numbers, html.unescape(re.search(r">(.*)</word>", line)[1])))
    return found


def beyond_margins(leaf, margin_mm):
    """Return the words that reach into the margins of a page."""
    margin = margin_mm * POINTS_PER_MM - 0.5
    return [
        word
        for word in leaf.words
        if word.left < margin
        or word.right > leaf.width - margin
        or word.top < margin / 2
        or word.bottom > leaf.height - margin / 2
    ]


def overlapping(leaf, slack=1.5):
    """Return the pairs of words that are printed over each other."""
    words = leaf.words
    return [
        (one.text, other.text)
        for at, one in enumerate(words)
        for other in words[at + 1 :]
        if min(one.right, other.right) - max(one.left, other.left) > slack
        and min(one.bottom, other.bottom) - max(one.top, other.top) > 2 * slack + 2
    ]
