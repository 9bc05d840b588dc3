"""The command `performance`: a table to read, JSON for scripts, clear refusals."""

import io
import json

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from tests.making import a_contact, a_stint, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


def told(*arguments):
    out = io.StringIO()
    call_command("performance", *arguments, stdout=out)
    return out.getvalue()


@pytest.fixture
def stint():
    outing = an_outing()
    stint = a_stint(outing, arrangement=an_arrangement(an_antenna(outing.owner, "Wire"), "sloping"), minutes=75)
    for number in range(17):
        a_contact(stint=stint, call=f"Q{number % 10}AB{'CD'[number // 10]}")
    return stint


def test_json_has_the_figures_unrounded(stint):
    found = json.loads(told("--operator", "q1abc", "--by", "arrangement", "--json"))
    group, = found["groups"]
    assert (found["by"], found["raw"], group["label"], group["contacts"]) == ("arrangement", True, "Wire, sloping", 17)
    # Source: R's poisson.test, check value T7-A03.
    assert group["rate"]["low"] == pytest.approx(7.9225, rel=1e-4)
    assert group["rate"]["high"] == pytest.approx(21.7749, rel=1e-4)
    assert (group["median"], group["without_position"]) == (None, 17)


def test_the_table_is_for_reading(stint):
    table = told("--operator", "Q1ABC", "--by", "band")
    assert "20m" in table and "1 h 15 min" in table and "8 to 22" in table and "do not compare like with like" in table


def test_the_filters_of_the_page_work_here(stint):
    found = json.loads(told("--operator", "Q1ABC", "--band", "40m", "--json"))
    assert found["groups"] == []
    assert json.loads(told("--operator", "Q1ABC", "--since", "2026-05-01", "--recorded", "--json"))["groups"]


def test_another_operators_figures_are_not_shown(stint):
    an_operator("Q2DEF")
    assert json.loads(told("--operator", "Q2DEF", "--json"))["groups"] == []


def test_what_cannot_be_asked_is_refused_in_a_sentence(stint):
    with pytest.raises(CommandError, match="no account with the call sign Q9NONE"):
        told("--operator", "Q9NONE")
    with pytest.raises(CommandError, match=r"--since: Enter a valid date\."):
        told("--operator", "Q1ABC", "--since", "yesterday")
    with pytest.raises(CommandError, match="--band"):
        told("--operator", "Q1ABC", "--band", "19m")
