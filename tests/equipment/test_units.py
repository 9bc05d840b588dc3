"""Quantities as the operator reads them: the factors against their definitions, the rounding against examples."""

import pytest
from django.template import Context, Template

from equipment import units as quantities
from equipment.templatetags import units

NBSP = "\u00a0"


def test_factors_are_those_of_the_1959_yard_and_pound_agreement():
    # Source: NIST Special Publication 811 (2008), appendix B.8: foot 3.048 E-01 m, mile 1.609344 E+03 m,
    # pound (avoirdupois) 4.5359237 E-01 kg, ounce 2.834952 E-02 kg.
    assert quantities.length_to_m(1, "imperial") == 0.3048
    assert quantities.distance_to_km(1, "imperial") == 1.609344
    assert quantities.weight_to_kg(1, "imperial") == 0.45359237
    assert round(quantities.OUNCE_KG, 8) == 0.02834952


@pytest.mark.parametrize("name", ["length", "distance", "weight"])
@pytest.mark.parametrize("system", ["metric", "imperial"])
def test_what_is_typed_comes_back_as_typed(name, system):
    stored = {"length": "m", "distance": "km", "weight": "kg"}[name]
    there = getattr(quantities, f"{name}_to_{stored}")
    back = getattr(quantities, f"{name}_from_{stored}")
    assert back(there(12.34, system), system) == pytest.approx(12.34, rel=1e-12)


@pytest.mark.parametrize(
    ("filter_name", "value", "system", "shown"),
    [
        ("wire_length", 1.23, "metric", "1.23 m"),
        ("wire_length", 10.0, "metric", "10 m"),
        ("wire_length", 5.1816, "imperial", "17 ft"),
        ("wire_length", 5.3, "imperial", "17 ft 4.7 in"),
        ("wire_length", 0.1, "imperial", "3.9 in"),
        ("wire_length", 0.3048 * 0.99999, "imperial", "1 ft"),
        ("altitude", 100.4, "imperial", "329 ft"),
        ("distance_km", 5758.84, "metric", "5759 km"),
        ("distance_km", 15758.84, "metric", "15\u202f759 km"),
        ("distance_km", 4.168, "metric", "4.2 km"),
        ("distance_km", 1609.344, "imperial", "1000 mi"),
        ("weight", 0.85, "metric", "850 g"),
        ("weight", 0.9997, "metric", "1 kg"),
        ("weight", 3.456, "metric", "3.46 kg"),
        ("weight", 0.85, "imperial", "1 lb 14 oz"),
        ("weight", 0.1, "imperial", "3.5 oz"),
    ],
)
def test_a_quantity_is_shown_in_the_preferred_units(filter_name, value, system, shown):
    assert getattr(units, filter_name)(value, system).replace(NBSP, " ") == shown


@pytest.mark.parametrize(
    ("filter_name", "value", "shown"),
    [
        ("power", 5.0, "5 W"), ("power", 0.25, "250 mW"), ("power", 0.0025, "2.5 mW"), ("power", 100, "100 W"),
        ("power", 0, "0 W"), ("frequency", 14_062_000, "14.062 MHz"), ("frequency", 7_074_500, "7.0745 MHz"),
        ("frequency", 14_000_000, "14.000 MHz"), ("volts", 13.2, "13.20 V"), ("amperes", 0.34, "0.340 A"),
        ("ohms", 0.0852, "85.2 mΩ"), ("ohms", 50, "50.0 Ω"), ("ampere_hours", 6.0, "6 Ah"), ("figure", 13.6, "13.6"),
        ("figure", 1234.5, "1230"),
    ],
)
def test_a_quantity_without_a_choice_of_units_is_rounded_to_what_it_deserves(filter_name, value, shown):
    assert getattr(units, filter_name)(value).replace(NBSP, " ") == shown


@pytest.mark.parametrize(
    ("value", "error", "system", "shown"),
    [
        # The first, two 4-character locators, as is common practice: "5760 km, give or take 60".
        (5758.843, 57.0, "metric", "5760 ± 60 km"),
        (72.418, 2.612, "metric", "72 ± 3 km"),
        (72.418, 0.2, "metric", "72.4 ± 0.2 km"),
        (100.0, 200.0, "metric", "0 to 300 km"),
        (0.0, 200.0, "metric", "0 to 200 km"),
        (500.0, 0, "metric", "500 km"),
        (1609.344, 16.09344, "imperial", "1000 ± 10 mi"),
    ],
)
def test_a_distance_is_rounded_to_what_its_error_deserves(value, error, system, shown):
    assert units.distance_between(value, error, system).replace(NBSP, " ") == shown


@pytest.mark.parametrize(
    ("figures", "shown"),
    [
        ((13.6, 7.9225, 21.7749), ("14", "8", "22")),
        ((5.66141, 4.75312, 6.69271), ("5.7", "4.8", "6.7")),
        ((0, 0, 1.84444), ("0.0", "0.0", "1.8")),
        ((1116.2, 753.3, 1795.9), ("1100", "800", "1800")),
        ((742.0, 610.0, 880.0), ("740", "610", "880")),
        ((742.4, None, None), ("742", "", "")),
        ((742.4, 742.4, 742.4), ("742", "", "")),
    ],
)
def test_a_figure_is_rounded_to_what_its_interval_deserves(figures, shown):
    assert units.with_interval(*figures) == shown


def test_nothing_known_shows_nothing():
    template = Template(
        "{% load units %}{{ x|wire_length:'metric' }}{{ x|distance_km:'metric' }}{{ x|weight:'metric' }}{{ x|power }}"
        "{{ x|frequency }}{{ x|volts }}{{ x|amperes }}{{ x|ohms }}{{ x|ampere_hours }}{{ x|figure }}{{ x|altitude }}"
        "{% distance_between x x 'metric' %}|{{ x|power|default:'–' }}"
    )
    assert template.render(Context({"x": None})) == "|–"
