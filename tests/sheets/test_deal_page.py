"""What is said of the positions of a place, by what is known of them."""

import pytest

from app.core.dealing.placing import PlaceUse
from app.core.words import LAMP
from app.sheets.deal_page import place_line


def use(**changes):
    fields = {"positions": 8, "overlap": 5, "used": 5, "waiting": 0, "is_fewest": True, "costly_pins": ()}
    return PlaceUse(place=LAMP, **fields | changes)


FEWEST = "The fewest: as many as trays on the fullest day."
CASES = {
    "as many as overlap": ({}, (FEWEST,)),
    "nothing stands there": ({"overlap": 0, "used": 0}, ("Not used.",)),
    "pins ask for more": (
        {"used": 6, "costly_pins": (12,)},
        ("The fewest that what stands and what is pinned allow.", "The pin of tray 12 costs one position."),
    ),
    "not proven": ({"used": 7, "is_fewest": False}, ("It is not proven that fewer would not do.",)),
    "one waits": ({"overlap": 9, "used": 8, "waiting": 1}, ("1 tray waits at some time, the fewest that must.",)),
    "some wait for a pin": (
        {"overlap": 9, "used": 8, "waiting": 3, "costly_pins": (4, 7)},
        (
            "3 trays wait at some time, the fewest that must.",
            "The pin of tray 4 costs one position or lets one tray more wait.",
            "The pin of tray 7 costs one position or lets one tray more wait.",
        ),
    ),
}


@pytest.mark.parametrize(("changes", "words"), CASES.values(), ids=CASES)
def test_it_is_said_whether_these_are_the_fewest_and_which_pin_costs(changes, words):
    line = place_line(use(**changes))
    assert line.name == "Lamps"
    assert line.words == words
