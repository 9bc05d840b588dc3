"""Gear judged by distances, reports and what was spent: from the log to the lines of the page."""

import datetime

import pytest
from django.urls import reverse

from outings.models import Contact, Stint
from outings.queries import comparison
from tests.making import (
    a_pack,
    a_power_setting,
    a_radio,
    a_stint,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db

WIRE_KM = (900, 1500, 2100, 2600, 3300, 4000, 1200, 1900, 2800, 3600)


def filled(stint, distances_km, received, sent="57"):
    """A stint with a contact at each of these distances, and these reports."""
    rows = []
    for number, km in enumerate(distances_km):
        rows.append(Contact(
            owner=stint.owner, outing=stint.outing, stint=stint, call=f"Q{number}AB", band=stint.band, mode=stint.mode,
            station_call="Q1ABC/P", started_at=stint.started_at + datetime.timedelta(minutes=2 * number),
            distance_km=km, bearing_deg=40, rst_sent=sent, rst_rcvd=received[number % len(received)],
        ))
    Contact.objects.bulk_create(rows)


def in_turns(operator, days=6, nearer_km=700, **fields):
    """A wire and a whip in turns on some outings; the whip's contacts are nearer and weaker."""
    weights = (("Wire", 1.0), ("Whip", 2.0))
    ways = [an_arrangement(an_antenna(operator, name, weight_kg=kg), "up") for name, kg in weights]
    for day in range(1, days + 1):
        outing = an_outing(operator, start=f"2026-05-{day:02} 12:00", solar_flux=80 + 15 * day)
        for number, way in enumerate(ways):
            start = f"2026-05-{day:02} 12:{30 * number:02}"
            stint = a_stint(outing, arrangement=way, start=start, minutes=29, **fields)
            shift = nearer_km if number else 0
            reports = (("57", "55", "59", "56"), ("55", "53", "57", "54"))[number]
            filled(stint, [km - shift + 10 * day for km in WIRE_KM], reports)
    return ways


def asked(operator, measure, by="arrangement", **options):
    found = comparison.judged(operator, Stint.objects.of(operator), by, measure, **options)
    return found, {line.label: line for line in found.lines}


def test_distances_are_shifted_by_what_the_log_was_made_with():
    operator = an_operator()
    in_turns(operator)
    found, lines = asked(operator, "distance")
    whip = lines["Whip, up"] if lines["Wire, up"].is_reference else lines["Wire, up"]
    assert abs(whip.effect) == pytest.approx(700, abs=1)
    assert whip.effect_low < whip.effect < whip.effect_high
    assert found.unit == "km"
    assert "120 of 120 contacts are with a known position" in found.remarks[0]


def test_miles_are_miles():
    operator = an_operator(units="imperial")
    in_turns(operator)
    found, lines = asked(operator, "distance")
    assert found.unit == "mi"
    assert max(abs(line.effect) for line in lines.values()) == pytest.approx(700 / 1.609344, abs=1)


def test_the_share_beyond_a_distance_is_in_percent():
    operator = an_operator()
    in_turns(operator)
    found, lines = asked(operator, "beyond", beyond_km=2000)
    values = sorted(line.value for line in lines.values())
    assert values == [pytest.approx(40, abs=6), pytest.approx(60, abs=6)]
    assert found.unit == "%"


def test_the_upper_tenth_says_why_where_contacts_are_few():
    operator = an_operator()
    in_turns(operator, days=1)
    found, lines = asked(operator, "upper_tenth")
    assert found.state == "apart"
    assert any("too few" in line.reason for line in lines.values())


def test_reports_count_where_they_were_no_formality():
    operator = an_operator()
    in_turns(operator)
    formal = an_outing(operator, start="2026-06-01 12:00")
    stint = a_stint(formal, arrangement=Stint.objects.first().arrangement, start="2026-06-01 12:00")
    filled(stint, WIRE_KM, ("59",), "59")
    found, lines = asked(operator, "received")
    assert max(abs(line.effect) for line in lines.values()) == pytest.approx(12, abs=0.5)  # two S units
    assert any("1 outing was left out" in remark for remark in found.remarks)
    _, sent = asked(operator, "sent")
    assert all("the same" in line.reason or line.is_reference for line in sent.values())


def test_what_was_spent_stands_where_hours_stand():
    operator = an_operator()
    radio = a_radio(operator, receive_a=0.4)
    a_power_setting(radio, output_w=10.0, transmit_a=2.4)
    in_turns(operator, radio=radio, pack=a_pack(operator, nominal_v=12.8), setup_min=12)
    _, by_weight = asked(operator, "weight")
    told = next(line for line in by_weight.values() if not line.is_reference)
    assert told.effect in (pytest.approx(2, rel=0.05), pytest.approx(0.5, rel=0.05))  # alike, but twice the weight
    _, by_energy = asked(operator, "energy")
    assert next(line for line in by_energy.values() if not line.is_reference).effect == pytest.approx(1, rel=0.05)
    _, by_setup = asked(operator, "setup")
    assert all(line.value == pytest.approx(60 / (6 * 41), rel=0.01) for line in by_setup.values())


@pytest.mark.parametrize("measure", ["energy", "weight", "setup"])
def test_what_is_not_known_is_said(measure):
    operator = an_operator()
    in_turns(operator, days=2)
    if measure == "weight":
        for antenna in {stint.arrangement.antenna for stint in Stint.objects.all()}:
            antenna.weight_kg = None
            antenna.save()
    found, _ = asked(operator, measure)
    assert found.state == "alone"
    assert "not known" in found.verdict or "There are not two" in found.verdict
    assert any("not noted" in remark or "noted" in remark for remark in found.remarks)


def test_conditions_are_held_fixed_and_filtered_by(client_of):
    operator = an_operator()
    in_turns(operator)
    found = comparison.judged(operator, Stint.objects.of(operator), more=("light", "season"))
    assert found.state in ("open", "told")
    client = client_of(operator)
    address = reverse("outings:evidence")
    assert "From 12 stints" in client.get(address, {"light": "day", "season": "spring"}).content.decode()
    assert "No stint matches" in client.get(address, {"light": "night"}).content.decode()
    assert "No stint matches" in client.get(address, {"season": "autumn"}).content.decode()
    figures = client.get(reverse("outings:performance"), {"by": "k_index"}).content.decode()
    assert "no K index noted" in figures
    assert "middle" in client.get(reverse("outings:performance"), {"by": "solar_flux"}).content.decode()
    behind = client.get(reverse("outings:performance_stints"), {"by": "solar_flux", "of": "middle"}).content.decode()
    assert "Middle" in behind


@pytest.mark.parametrize("measure", list(comparison.MEASURES))
def test_the_page_shows_every_measure(measure, client_of):
    operator = an_operator()
    in_turns(operator)
    page = client_of(operator).get(reverse("outings:evidence"), {"measure": measure, "beyond": "1800"})
    assert page.status_code == 200
    assert "Wire, up" in page.content.decode()


def test_each_measure_takes_a_bounded_number_of_queries(django_assert_max_num_queries):
    operator = an_operator()
    in_turns(operator)
    for measure in comparison.MEASURES:
        with django_assert_max_num_queries(8):
            asked(operator, measure)


def test_reports_on_two_scales_are_not_averaged_raw():
    operator = an_operator()
    in_turns(operator)
    digital = an_outing(operator, start="2026-06-02 12:00")
    way = Stint.objects.first().arrangement
    stint = a_stint(digital, arrangement=way, start="2026-06-02 12:00", mode="FT8", submode="")
    filled(stint, WIRE_KM, ("-10", "-14"), "-08")
    found, lines = asked(operator, "received")
    assert all(line.value is None and line.raw_effect is None for line in lines.values())
    assert max(abs(line.effect) for line in lines.values()) == pytest.approx(12, abs=0.5)
    assert any("would mix them" in remark for remark in found.remarks)
