"""What the script of the entries that wait says: its words come from the page, in the language of the page."""

import json
import re

from app.language import speaking
from app.web.waiting_words import WORDS, waiting_words
from tests.rules.tree import ROOT

SCRIPT = ROOT / "app" / "web" / "static" / "waiting.js"


def test_the_script_says_what_is_marked_and_nothing_else():
    script = SCRIPT.read_text(encoding="utf-8")
    assert set(re.findall(r'\bsay\("([^"]*)"', script)) == set(WORDS)
    rest = re.sub(r'\bsay\("[^"]*"|//.*|/\*.*?\*/', "", script, flags=re.DOTALL)
    said = [words for pair in re.findall(r'"([^"\n]*)"|`([^`\n]*)`', rest) for words in pair]
    assert [
        words for words in said if re.search(r"[A-Z][a-z]+ [a-z]|[a-z]{2} [a-z]{2}", words) and words not in PLAIN
    ] == []


# Keys and the names of classes and attributes.
PLAIN = {
    "use strict",
    "traymates waiting",
    "traymates typed",
    "traymates try",
    "sign in",
    "button plain",
    "waiting sent",
}


def test_a_page_in_english_brings_no_words_and_others_bring_them_all():
    assert waiting_words() == ""
    for code in ("fr", "es"):
        with speaking(code):
            brought = json.loads(waiting_words())
        assert list(brought) == list(WORDS)
        for words, said in brought.items():
            assert sorted(re.findall(r"%\(\w+\)s", said)) == sorted(re.findall(r"%\(\w+\)s", words))
