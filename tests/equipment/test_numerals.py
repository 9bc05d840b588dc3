"""The sign before decimals: where it is put, where it is not, and how long it is in force."""

import threading

import pytest

from equipment import numerals, typed_quantities
from equipment.numerals import COMMA, POINT, Numeral, decimals_after, each_after, localised
from equipment.templatetags import units
from outings import geography


def test_a_point_is_shown_unless_something_else_is_wanted():
    assert f"{Numeral(13.25):.1f} V, {Numeral(-0.5):+g}, {Numeral(2)}" == "13.2 V, -0.5, 2"


def test_numbers_are_shown_with_a_comma_where_it_is_wanted():
    with decimals_after(COMMA):
        assert f"{Numeral(13.25):.2f} V, {Numeral(-0.5):+g}, {Numeral(1.5)}" == "13,25 V, -0,5, 1,5"
        assert units.number(12345.67, 1) == "12\u202f345,7"
        assert units.number(-1.5, 1) == "\u22121,5"
        assert units.significant(0.04567) == "0,0457"
        assert (units.trimmed(2.50, 2), units.trimmed(20, 0), units.trimmed(3.0, 2)) == ("2,5", "20", "3")
        assert units.frequency(14_285_500) == "14,2855\u00a0MHz"
        assert units.to_places(2.25, -1) == "2,3"
        assert units.with_interval(5.661, 4.753, 6.693) == ("5,7", "4,8", "6,7")


def test_thousands_are_never_parted_by_commas():
    with pytest.raises(ValueError, match="thousands"):
        f"{Numeral(12345.6):,.1f}"


def test_anything_but_a_comma_is_a_point():
    for odd in ("", ";", None, POINT):
        with decimals_after(odd):
            assert f"{Numeral(1.5)}" == "1.5"


def test_a_text_keeps_what_only_looks_like_a_number():
    text = "1.724e-8 Ω m by arXiv:1709.03970 (2017), 47 CFR 1.1310, section 8.5, CC BY 4.0; at 0.1 V."
    assert localised(text) == text
    with decimals_after(COMMA):
        assert localised(text) == text.replace("1.724", "1,724").replace("0.1 V", "0,1 V")


@pytest.mark.parametrize("position", [(48.1467, 11.6083), (-33.9, -70.25), (0.5, -0.5)])
def test_a_position_is_read_back_as_it_is_written(position):
    assert geography.parse_position(geography.format_decimal(*position)) == position
    with decimals_after(COMMA):
        written = geography.format_decimal(*position)
        assert "." not in written and "; " in written
        assert geography.parse_position(written) == position
        assert localised("such as 14285, 14.285 or 1.5, 2 and 3") == "such as 14285; 14,285 or 1,5, 2 and 3"


def test_the_sign_is_given_back_after_a_fault_and_after_each_piece():
    with pytest.raises(RuntimeError), decimals_after(COMMA):
        raise RuntimeError
    assert numerals.sign() == POINT
    pieces = each_after(COMMA, (str(Numeral(value)) for value in (0.5, 1.5)))
    assert (next(pieces), numerals.sign()) == ("0,5", POINT)
    assert list(pieces) == ["1,5"]


def test_another_thread_is_not_concerned():
    seen = []
    with decimals_after(COMMA):
        thread = threading.Thread(target=lambda: seen.append(str(Numeral(1.5))))
        thread.start()
        thread.join()
    assert seen == ["1.5"]


@pytest.mark.parametrize("quantity", [typed_quantities.LENGTH, typed_quantities.WEIGHT, typed_quantities.FREQUENCY])
@pytest.mark.parametrize("system", ["metric", "imperial"])
def test_what_stands_in_a_field_is_read_back_with_either_sign(quantity, system):
    value = 12.3456
    point = localised(typed_quantities.write(value, quantity, system))
    with decimals_after(COMMA):
        comma = localised(typed_quantities.write(value, quantity, system))
    assert (comma.count(","), point.count(",")) == (point.count("."), 0)
    assert typed_quantities.read(comma, quantity, system) == typed_quantities.read(point, quantity, system)
