"""Names of crops and containers in the language that is spoken."""

import pytest

from app.language import speaking
from app.sheets.names import name_words


@pytest.mark.parametrize(
    ("code", "tomato", "pot"),
    [("en", "Tomato", "9 cm pot"), ("fr", "Tomate", "godet de 9 cm"), ("es", "Tomate", "maceta de 9 cm")],
)
def test_the_program_s_own_names_are_said_and_others_stay(code, tomato, pot):
    with speaking(code):
        assert name_words("Tomato") == tomato
        assert name_words("9 cm pot") == pot
        assert name_words("Tomato, early") == "Tomato, early"
        assert name_words("My tomatoes") == "My tomatoes"
