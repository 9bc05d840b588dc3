"""On-air time inferred from contacts: gaps, changes of set-up, two radios, a contact alone, and the rate it gives."""

import random

import pytest

from outings.intake import stretches

A, B = ("20m", "SSB"), ("40m", "CW")


def found(*contacts, gap_min=20):
    """(start, end, members) of each stretch, of contacts given as (minute, set-up) or (minute, set-up, radio)."""
    rows = [(c[0] * 60, c[2] if len(c) > 2 else "", c[1], number) for number, c in enumerate(contacts)]
    return [(s.start, s.end, s.members) for s in stretches.inferred(rows, gap_min)]


def test_a_gap_ends_a_stretch_and_twenty_minutes_do_not():
    assert [members for _, _, members in found((0, A), (20, A), (41, A))] == [(0, 1), (2,)]


def test_a_change_of_set_up_ends_a_stretch_and_the_next_does_not_overlap():
    one, two, three = found((0, A), (4, A), (5, B), (9, B), (10, A))
    assert [one[2], two[2], three[2]] == [(0, 1), (2, 3), (4,)]
    assert one[1] <= two[0] and two[1] <= three[0]


def test_two_radios_are_two_streams():
    rows = found((0, A, "one"), (1, B, "two"), (2, A, "one"), (3, B, "two"))
    assert [members for _, _, members in rows] == [(0, 2), (1, 3)]


def test_half_the_mean_gap_is_added_at_each_end():
    assert found((10, A), (14, A), (22, A)) == [(7 * 60, 25 * 60, (0, 1, 2))]


def test_a_contact_alone_gets_five_minutes():
    assert found((10, A)) == [(450, 750, (0,))]
    assert found((10, A), (10, A)) == [(450, 750, (0, 1))]


def test_contacts_need_not_be_in_order():
    assert found((5, A), (0, A)) == [(-150, 450, (1, 0))]
    assert found() == []


def test_the_rule_is_in_words():
    assert "more than 15 min" in stretches.rule(15) and len(stretches.rule(12.5)) <= 200


@pytest.mark.parametrize("rate_per_h", [20, 60])
def test_the_rate_over_inferred_time_is_that_of_a_steady_stream(rate_per_h):
    # Reference: a Poisson process with known rate, simulated. Over many stretches contacts per hour agree within 3 %.
    noise, contacts, on_air_s = random.Random(7), 0, 0.0
    for _ in range(400):
        at, times = 0.0, []
        for _ in range(30):
            at += noise.expovariate(rate_per_h / 3600)
            times.append((int(at), "", A, len(times)))
        for stretch in stretches.inferred(times, gap_min=600):
            contacts += len(stretch.members)
            on_air_s += stretch.end - stretch.start
    assert contacts / (on_air_s / 3600) == pytest.approx(rate_per_h, rel=0.03)
