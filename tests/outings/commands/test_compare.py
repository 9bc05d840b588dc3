"""The command `compare`: a verdict with its table to read, JSON for scripts, clear refusals."""

import datetime
import io
import json

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from outings.models import Contact
from tests.making import a_stint, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


def told(*arguments):
    out = io.StringIO()
    call_command("compare", *arguments, stdout=out)
    return out.getvalue()


@pytest.fixture
def operator():
    """A wire and a whip in turns on six outings."""
    operator = an_operator()
    ways = [an_arrangement(an_antenna(operator, name), "up") for name in ("Wire", "Whip")]
    for day, pair in enumerate([(22, 8), (19, 6), (25, 9), (21, 7), (24, 8), (20, 6)], 1):
        outing = an_outing(operator, start=f"2026-05-{day:02} 12:00")
        for number, (way, count) in enumerate(zip(ways, pair, strict=True)):
            start = f"2026-05-{day:02} 12:{30 * number:02}"
            stint = a_stint(outing, arrangement=way, start=start, minutes=30)
            Contact.objects.bulk_create([
                Contact(
                    owner=operator, outing=outing, stint=stint, call=f"Q{n}AB", band="20m", mode="SSB",
                    station_call="Q1ABC/P", started_at=stint.started_at + datetime.timedelta(minutes=n),
                ) for n in range(count)
            ])
    return operator


def test_json_has_the_judgement_unrounded(operator):
    found = json.loads(told("--operator", "q1abc", "--json"))
    assert (found["by"], found["measure"], found["state"], found["reference"]) == (
        "arrangement", "rate", "told", "Wire, up"
    )
    whip = next(line for line in found["lines"] if line["label"] == "Whip, up")
    assert whip["effect_low"] < whip["effect"] < whip["effect_high"] < 1 and whip["claimed"] is True
    assert whip["raw_effect"] == pytest.approx(44 / 131)
    assert found["held_fixed"] == ["outing"] and found["dispersion"] >= 1


def test_the_table_is_for_reading(operator):
    text = told("--operator", "Q1ABC", "--by", "antenna", "--hold", "power")
    first, *rest = text.splitlines()
    assert first.startswith("Whip makes only 0.34") and "× 0.34" in text and "reference" in text
    assert any(line.startswith("Held fixed: outing") for line in rest)


def test_one_alone_and_an_empty_log_say_so(operator):
    assert "Only 20m was on the air" in told("--operator", "Q1ABC", "--by", "band")
    an_operator("Q2DEF")
    empty = told("--operator", "Q2DEF")
    assert "no time on the air" in empty and "Wire" not in empty
    assert json.loads(told("--operator", "Q2DEF", "--json"))["lines"] == []


def test_what_cannot_be_asked_is_refused_in_a_sentence(operator):
    with pytest.raises(CommandError, match="no account with the call sign Q9NONE"):
        told("--operator", "Q9NONE")
    with pytest.raises(CommandError, match=r"--since: Enter a valid date\."):
        told("--operator", "Q1ABC", "--since", "yesterday")
    with pytest.raises(CommandError, match="--band"):
        told("--operator", "Q1ABC", "--band", "19m")
