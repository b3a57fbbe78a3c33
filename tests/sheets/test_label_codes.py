"""The codes of labels, read back from pictures of the printed pages."""

import pytest

from app.core.house.label_sheets import LabelKind
from app.sheets.labels import make_stake_labels, make_tags, make_tray_labels
from tests.sheets.labelling import (
    AREAS,
    WITH_CODE,
    Area,
    codes_in,
    holds,
    lot,
    of_kind,
    order,
    pictures,
    printed,
    tray,
)
from tests.sheets.reading import squashed, text_of


@pytest.mark.parametrize("kind", list(LabelKind), ids=str)
@pytest.mark.parametrize("key", WITH_CODE)
def test_the_code_of_every_label_is_read_from_the_page_and_lies_within_it(key, kind):
    _, outlines = AREAS[key]
    pdf = of_kind(kind, key)
    for dpi in (150, 200):
        found = []
        shown = pictures(pdf, dpi)
        for number in range(6):
            page, at = divmod(number, len(outlines))
            outline = outlines[at]
            [(text, corners)] = codes_in(shown[page], outline, dpi)
            found.append(text)
            xs, ys = [x for x, _ in corners], [y for _, y in corners]
            # a code of this address has 25 modules a side (version 2), and 4 of white around it
            white = 4 * (max(xs) - min(xs)) / 25 - 0.4
            assert holds(outline, Area(min(xs) - white, min(ys) - white, max(xs) + white, max(ys) + white), 1.0)
        assert found == [f"HTTP://SHED.LAN:5000/T/{number}" for number in range(98, 104)]


@pytest.mark.parametrize("key", ["a4-5x13-38.1x21.2", "letter-3x10-66.675x25.4", "a4-3x8-70x37"])
def test_the_white_around_a_code_is_white(key):
    dpi = 300
    full = [lot(number, crop="W" * 40, grower="W" * 40, cells=[(1, number + 1)]) for number in range(6)]
    made = (
        make_tray_labels([tray(number, full) for number in range(100_000, 100_006)], order(key)),
        make_stake_labels([tray(100_000, full)], order(key)),
        make_tags(range(100_000, 100_006), order(key)),
    )
    for labels in made:
        picture = pictures(printed(labels), dpi)[0]
        for outline in AREAS[key][1][:6]:
            [(_, corners)] = codes_in(picture, outline, dpi)
            (left, top), (right, bottom) = corners[0], corners[2]
            module = (right - left) / 25
            far, near = 3.8 * module, 0.5 * module
            scale = dpi / 25.4

            def part(x1, y1, x2, y2, picture=picture, scale=scale):
                return picture[round(y1 * scale) : round(y2 * scale), round(x1 * scale) : round(x2 * scale)]

            assert part(left - far, top - far, left - near, bottom + far).min() > 200
            assert part(right + near, top - far, right + far, bottom + far).min() > 200
            assert part(left - far, top - far, right + far, top - near).min() > 200
            assert part(left - far, bottom + near, right + far, bottom + far).min() > 200


def test_a_full_page_of_tags_is_read_at_once_each_number_on_its_own_label():
    key = "a4-5x13-38.1x21.2"
    _, outlines = AREAS[key]
    [picture] = pictures(printed(make_tags(range(1, 66), order(key))), 200)
    found = {}
    for text, corners in codes_in(picture, Area(0, 0, 210, 297), 200):
        x, y = (sum(corner[at] for corner in corners) / 4 for at in (0, 1))
        [number] = [n for n, a in enumerate(outlines, start=1) if a.left < x < a.right and a.top < y < a.bottom]
        found[number] = text
    assert found == {number: f"HTTP://SHED.LAN:5000/T/{number}" for number in range(1, 66)}


def test_no_code_would_be_read_where_there_is_none():
    [picture] = pictures(printed(make_tags([1], order(address=None))), 200)
    assert codes_in(picture, Area(0, 0, 210, 297), 200) == []


@pytest.mark.parametrize("kind", list(LabelKind), ids=str)
def test_without_an_address_the_label_says_so(kind):
    made = {
        LabelKind.TRAY: make_tray_labels([tray()], order(address=None)),
        LabelKind.STAKE: make_stake_labels([tray()], order(address=None)),
        LabelKind.TAG: make_tags([1], order(address=None)),
    }
    assert squashed("No code: no address is set.") in text_of(printed(made[kind]))


def test_a_label_too_small_for_a_code_says_so():
    assert squashed("No code: the label is too small.") in text_of(
        printed(make_tags([1], order("letter-4x20-44.45x12.7")))
    )


def test_a_stake_can_do_without_a_code():
    pdf = printed(make_stake_labels([tray()], order(), has_code=False))
    assert codes_in(pictures(pdf, 200)[0], Area(0, 0, 210, 297), 200) == []
    assert "Nocode" not in text_of(pdf)
