import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.words import Units
from app.sheets import units
from app.sheets.units import Unit

METRIC, US = Units.METRIC, Units.US
MEASURES = [
    units.TEMPERATURE,
    units.TEMPERATURE_DIFFERENCE,
    units.LENGTH_CM,
    units.ELEVATION_M,
    units.DEPTH_MM,
    units.VOLUME_ML,
    units.BULK_ML,
    units.ORDERED_ML,
    units.WATER_ML,
    units.SEED_GRAMS,
    units.AREA_CM2,
    units.LARGE_AREA_CM2,
]


def said(text):
    return text.replace("\u00a0", " ")


# NIST SP 811, appendix B.8, printed to seven digits where not exact: gallon (US) 3.785412 L, ounce (avoirdupois)
# 2.834952 E+01 g, quart (US liquid) 9.463529 E-01 L, ounce
# (US fluid) 2.957353 E+01 mL, foot 3.048 E-01 m, inch 2.54 cm, square foot 9.290304 E-02 m2, square inch 6.4516 cm2.
@pytest.mark.parametrize(
    ("factor", "printed", "half_last_digit"),
    [
        (units.ML_PER_GALLON, 3785.412, 0.0005),
        (units.GRAMS_PER_OUNCE, 28.34952, 0.000005),
        (units.ML_PER_QUART, 946.3529, 0.00005),
        (units.ML_PER_FLUID_OUNCE, 29.57353, 0.000005),
        (units.CM_PER_FOOT, 30.48, 0),
        (units.CM_PER_INCH, 2.54, 0),
        (units.CM2_PER_SQUARE_FOOT, 929.0304, 0),
        (units.CM2_PER_SQUARE_INCH, 6.4516, 0),
    ],
)
def test_factors_are_those_of_nist(factor, printed, half_last_digit):
    assert float(factor) == pytest.approx(printed, abs=half_last_digit, rel=1e-15)


# Fixed points of the Fahrenheit scale: water freezes at 32 and boils at 212, the scales meet at -40.
@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0, "32"), (100, "212"), (-40, "-40"), (21, "69.8")])
def test_temperatures_agree_with_the_fixed_points(celsius, fahrenheit):
    assert said(units.temperature_words(celsius, US)) == f"{fahrenheit} °F"


def test_a_difference_of_temperatures_has_no_offset():
    assert said(units.temperature_difference_words(5, US)) == "9 °F"
    assert said(units.temperature_difference_words(5, METRIC)) == "5 °C"


# 36 °F and 28 °F, the usual other freeze thresholds, are exactly 20/9 and -20/9 °C.
@pytest.mark.parametrize(("fahrenheit", "celsius"), [(36, 20 / 9), (28, -20 / 9), (32, 0.0)])
def test_a_typed_fahrenheit_is_stored_exactly(fahrenheit, celsius):
    assert units.TEMPERATURE.us.to_stored(fahrenheit) == celsius


# Seed packets print these pairs side by side (common practice).
@pytest.mark.parametrize(
    ("mm", "inches"), [(3, "1/8"), (6, "1/4"), (13, "1/2"), (25, "1"), (38, "1 1/2"), (0.2, "1/16")]
)
def test_depths_are_said_in_fractions_of_an_inch(mm, inches):
    assert said(units.depth_words(mm, US)) == f"{inches} in"


def test_seed_that_is_not_covered_lies_on_the_surface():
    assert units.sow_depth_words(0, METRIC) == units.sow_depth_words(0, US) == "on the surface"
    assert said(units.sow_depth_words(6, METRIC)) == "6 mm deep"


def test_a_shelf_of_122_by_61_cm_is_48_by_24_inches():
    assert said(units.size_words(122, 61, METRIC)) == "122 × 61 cm"
    assert said(units.size_words(122, 61, US)) == "48 × 24 in"


@pytest.mark.parametrize(
    ("ml", "system", "words"),
    [
        (35, METRIC, "35 ml"),
        (999, METRIC, "999 ml"),
        (1200, METRIC, "1.2 l"),
        (30, US, "1.01 fl oz"),
        (946.36, US, "1 qt"),
    ],
)
def test_volumes_take_the_unit_that_suits_their_size(ml, system, words):
    assert said(units.volume_words(ml, system)) == words


@pytest.mark.parametrize(
    ("cm2", "system", "words"),
    [(100, METRIC, "100 cm²"), (7442, METRIC, "0.74 m²"), (100, US, "16 sq in"), (7432.2432, US, "8 sq ft")],
)
def test_areas_take_the_unit_that_suits_their_size(cm2, system, words):
    assert said(units.area_words(cm2, system)) == words


def test_heights_are_metres_or_feet():
    assert said(units.elevation_words(320, METRIC)) == "320 m"
    assert said(units.elevation_words(320, US)) == "1050 ft"


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("system", list(Units))
@given(value=st.floats(-1000, 100_000))
def test_a_value_comes_back_from_its_unit(measure, system, value):
    unit = measure.unit(system)
    assert unit.to_stored(unit.from_stored(value)) == value


@given(st.floats(0.5, 400), st.floats(0, 100))
def test_bounds_are_rounded_inwards(low, width):
    unit = Unit(symbol="in", stored_per_unit=units.CM_PER_INCH, decimals=1)
    first, last = unit.bounds(low, low + width)
    assert unit.to_stored(units.Fraction(first)) >= low - 1e-9
    assert unit.to_stored(units.Fraction(last)) <= low + width + 1e-9


# What is ordered is rounded up: 704 408 ml are 744.3 quarts of 946.35 ml; a gram is 0.03527 ounces.
@pytest.mark.parametrize(
    ("words", "value", "metric", "us"),
    [
        (units.ordered_volume_words, 704_408.0, "705 l", "745 qt"),
        (units.ordered_volume_words, 2000.0, "2 l", "3 qt"),
        (units.ordered_volume_words, 22.0, "1 l", "1 qt"),
        (units.seed_weight_words, 1.0, "1 g", "0.036 oz"),
        (units.seed_weight_words, 0.0001, "0.01 g", "0.001 oz"),
        (units.seed_weight_words, 0.1 + 0.2, "0.3 g", "0.011 oz"),  # floating error is no hundredth more
        (units.water_words, 14_884.0, "14.9 l", "3.9 gal"),
    ],
)
def test_an_order_is_never_too_small(words, value, metric, us):
    assert (said(words(value, METRIC)), said(words(value, US))) == (metric, us)
