"""Quantities as they are typed, read into SI and written back."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from equipment import typed_quantities as typed


@pytest.mark.parametrize(
    ("text", "quantity", "units", "value"),
    [
        ("5.18", typed.LENGTH, "metric", 5.18),
        ("5,18", typed.LENGTH, "metric", 5.18),
        (" ,5 ", typed.LENGTH, "metric", 0.5),
        ("17 ft", typed.LENGTH, "metric", 5.1816),  # 17 times 0.3048 m, exact by the definition of the foot
        ("17", typed.LENGTH, "imperial", 5.1816),
        ("16 ft 5 in", typed.LENGTH, "imperial", 5.0038),  # 197 times 0.0254 m
        ("16' 5\"", typed.LENGTH, "imperial", 5.0038),
        ("16′5″", typed.LENGTH, "imperial", 5.0038),
        ("16 ft 5", typed.LENGTH, "imperial", 5.0038),
        ("5.18 m", typed.LENGTH, "imperial", 5.18),
        ("1 m 20 cm", typed.LENGTH, "metric", 1.2),
        ("0.45", typed.WEIGHT, "metric", 0.45),
        ("450 g", typed.WEIGHT, "imperial", 0.45),
        ("1 lb 4 oz", typed.WEIGHT, "imperial", 0.5669904625),  # 1.25 times 0.45359237 kg
        ("20 oz", typed.WEIGHT, "metric", 0.5669904625),
        ("2 KG", typed.WEIGHT, "metric", 2.0),
        ("500 mW", typed.POWER, "metric", 0.5),
        ("90 mA", typed.CURRENT, "imperial", 0.09),
        ("45 mΩ", typed.RESISTANCE, "metric", 0.045),
        ("45 m\u2126", typed.RESISTANCE, "metric", 0.045),
        ("45 mohm", typed.RESISTANCE, "metric", 0.045),
        ("3500 mAh", typed.CAPACITY, "metric", 3.5),
        ("−5", typed.TEMPERATURE, "metric", -5.0),
        ("270°", typed.ANGLE, "metric", 270.0),
    ],
)
def test_what_people_type_is_read(text, quantity, units, value):
    assert typed.read(text, quantity, units) == value


@pytest.mark.parametrize(
    "text",
    [
        "", "-", "long", "1e5", "nan", "inf", "5 kg", "3 in 2 ft", "1 2", "17 ft 2 m", "5 m 2", "1.2.3", "٣", "9" * 50,
        "0x10",
    ],
)
def test_what_is_no_length_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match=r"is not a length: write it like 5\.18 or 17 ft"):
        typed.read(text, typed.LENGTH, "metric")


@pytest.mark.parametrize("text", ["1,234.5", "1.234,5"])
def test_a_comma_and_a_point_together_are_refused(text):
    with pytest.raises(ValueError, match="a comma and a point"):
        typed.read(text, typed.LENGTH, "imperial")


def test_megawatts_are_never_taken_for_milliwatts():
    with pytest.raises(ValueError, match="is not a power"):
        typed.read("500 MW", typed.POWER)


@pytest.mark.parametrize(
    ("value", "quantity", "units", "text"),
    [
        (5.18, typed.LENGTH, "metric", "5.18"),
        (5.1816, typed.LENGTH, "imperial", "17 ft"),
        (5.0038, typed.LENGTH, "imperial", "16 ft 5 in"),
        (0.127, typed.LENGTH, "imperial", "5 in"),
        (3.761232, typed.LENGTH, "imperial", "12.34 ft"),
        (5.18, typed.LENGTH, "imperial", "16 ft 11.94 in"),
        (0.3047999, typed.LENGTH, "imperial", "1 ft"),
        (0.5669904625, typed.WEIGHT, "imperial", "1 lb 4 oz"),
        (0.45, typed.WEIGHT, "imperial", "15.87 oz"),
        (0.0, typed.WEIGHT, "imperial", "0"),
        (-0.0, typed.CURRENT, "metric", "0"),
        (1e-7, typed.LENGTH, "metric", "0"),
        (12.0, typed.POWER, "metric", "12"),
    ],
)
def test_a_stored_value_is_written_shortly(value, quantity, units, text):
    assert typed.write(value, quantity, units) == text


@given(tenths=some.integers(0, 99_999), units=some.sampled_from(["metric", "imperial"]))
def test_a_number_typed_with_a_decimal_reads_back_as_the_very_same(tenths, units):
    for quantity in (typed.LENGTH, typed.WEIGHT):
        value = typed.read(f"{tenths / 10:.1f}", quantity, units)
        assert typed.read(typed.write(value, quantity, units), quantity, units) == pytest.approx(value, abs=6e-7)


@given(text=some.text(max_size=60))
def test_no_text_does_worse_than_a_sentence(text):
    try:
        value = typed.read(text, typed.LENGTH, "imperial")
    except ValueError as error:
        assert str(error).endswith(".")
    else:
        assert abs(value) < 1e42


def test_a_limit_is_named_in_the_units_of_the_reader():
    assert typed.bound(500, typed.LENGTH, "metric") == "500 m"
    assert typed.bound(500, typed.LENGTH, "imperial") == "1640 ft"
