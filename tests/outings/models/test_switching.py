"""Fair tests: made with their blocks, run as stints, called off."""

import datetime

import pytest

from outings.models import StintError, SwitchingPlan
from tests.making import a_fair_test, a_moment, a_stint

pytestmark = pytest.mark.django_db


def test_blocks_are_kept_as_planned():
    plan = a_fair_test()
    blocks = list(plan.blocks.all())
    assert [(block.number, block.arrangement.name, block.round) for block in blocks] == [
        (1, "upright", 0), (2, "sloping", 0), (3, "sloping", 1), (4, "upright", 1),
    ]
    assert [(block.start_min, block.end_min) for block in blocks][:2] == [(0, 10), (12, 22)]
    assert len({block.pair for block in blocks}) == 2


def test_a_plan_that_does_not_fit_is_kept_nowhere():
    with pytest.raises(ValueError, match="too few"):
        a_fair_test(minutes=15)
    assert not SwitchingPlan.everything.exists()


def test_a_block_goes_on_the_air_where_the_stint_before_ends():
    plan = a_fair_test()
    first, second = plan.blocks.all()[:2]
    before = a_stint(plan.outing, minutes=None)
    begun = plan.begin(plan.owner, first, a_moment("2026-05-01 13:10"))
    assert (begun.block, begun.arrangement, begun.follows) == (first, first.arrangement, before)
    assert begun.band == before.band
    assert plan.standing() == (first, second)


def test_the_minutes_between_two_blocks_are_set_up():
    plan = a_fair_test()
    first, second = plan.blocks.all()[:2]
    a_stint(plan.outing, minutes=None)
    begun = plan.begin(plan.owner, first, a_moment("2026-05-01 13:10"))
    begun.stop(plan.owner, a_moment("2026-05-01 13:20"))
    assert plan.standing() == (None, second)
    later = plan.begin(plan.owner, second, a_moment("2026-05-01 13:23"))
    assert (later.setup_min, later.band, later.block) == (3.0, begun.band, second)
    assert later.on_air_s is None
    with pytest.raises(StintError, match="no test that goes on"):
        a_fair_test(plan.outing).begin(plan.owner, first, a_moment("2026-05-01 13:40"))


def test_a_block_needs_something_to_take_over():
    plan = a_fair_test()
    with pytest.raises(StintError, match="Go on the air once first"):
        plan.begin(plan.owner, plan.blocks.first(), a_moment("2026-05-01 13:10"))
    a_stint(plan.outing, minutes=60)
    with pytest.raises(StintError, match="must begin later"):
        plan.begin(plan.owner, plan.blocks.first(), a_moment("2026-05-01 13:10"))


def test_another_band_stays_in_the_block_and_another_arrangement_leaves_it():
    plan = a_fair_test()
    first = plan.blocks.first()
    a_stint(plan.outing, minutes=None)
    stint = plan.begin(plan.owner, first, a_moment("2026-05-01 13:10"))
    stint = stint.follow_with(plan.owner, a_moment("2026-05-01 13:13"), band="40m")
    assert stint.block == first
    other = plan.blocks.get(number=2).arrangement
    assert stint.follow_with(plan.owner, a_moment("2026-05-01 13:15"), arrangement=other).block is None


def test_a_plan_that_was_called_off_has_no_next_block_and_keeps_what_was_done():
    plan = a_fair_test()
    a_stint(plan.outing, minutes=None)
    plan.begin(plan.owner, plan.blocks.first(), a_moment("2026-05-01 13:10"))
    plan.end(plan.owner, a_moment("2026-05-01 13:30"))
    assert plan.standing() == (plan.blocks.first(), None)
    assert plan.history().count() == 2


def test_what_is_left_out_is_passed_over():
    plan = a_fair_test()
    a_stint(plan.outing, minutes=None)
    third = plan.blocks.get(number=3)
    plan.begin(plan.owner, third, a_moment("2026-05-01 13:10"))
    assert plan.standing() == (third, plan.blocks.get(number=4))
    assert third.on_air == datetime.timedelta(minutes=10)
