"""Folding of text for searches."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.folded import fold, holds_all


@pytest.mark.parametrize(
    ("written", "folded"),
    [
        # Unicode's own examples: UAX 15, figures 3 to 6; CaseFolding.txt, statuses C and F.
        ("\u212b", "a"), ("A\u030a", "a"), ("\u1e9b\u0323", "s"), ("ﬁ", "fi"), ("2\u2075", "25"),
        ("Straße", "strasse"), ("\u0149", "\u02bcn"), ("ΜΆΪΟΣ", "μαιοσ"), ("\u0130", "i"),
        # Names of people and crops, invented: each as somebody would type it.
        ("Nováková", "novakova"), ("Inês", "ines"), ("Jarosław", "jaroslaw"), ("Tørnqvist", "tornqvist"),
        ("Đặng", "dang"), ("Ayşe", "ayse"), ("Ægir", "aegir"), ("Žižkov", "zizkov"), ("O’Brien", "o'brien"),
        ("  two\u00a0  blanks\t", "two blanks"), ("", ""),
    ],
)  # fmt: skip
def test_text_is_folded(written, folded):
    assert fold(written) == folded


@given(st.text())
def test_folding_twice_changes_nothing_and_no_way_of_writing_matters(text):
    assert fold(fold(text)) == fold(text)
    for form in ("NFC", "NFD", "NFKC", "NFKD"):
        assert fold(unicodedata.normalize(form, text)) == fold(text)


@given(st.text(alphabet=st.characters(categories=["Lu", "Ll", "Nd"])))
def test_capitals_do_not_matter(text):
    """Of upper case to lower and back: the caseless match of the Unicode Standard, 3.13, D146."""
    assert fold(text.upper().lower()) == fold(text.upper())


def test_all_words_have_to_be_there():
    assert holds_all("Tomato, Čudo of Inês", ["cudo", "ines", "toma"])
    assert not holds_all("Tomato of Inês", ["tomato", "cudo"])
    assert holds_all("anything", [])
