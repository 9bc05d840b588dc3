"""Outings deleted with their log and brought back, sites moved and retired."""

import pytest

from equipment.models import CannotTakeBack
from outings.models import ChecklistLine, Contact, Outing, Site, Stint
from tests.making import a_contact, a_moment, a_site, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db


def test_an_outing_goes_and_comes_back_with_its_log_and_checklist():
    outing = an_outing()
    stint = a_stint(outing)
    a_contact(outing, stint=stint)
    gone_before = a_contact(outing, call="Q9ZZZ")
    gone_before.withdraw(outing.owner)
    ChecklistLine(owner=outing.owner, outing=outing, text="Radio").keep(outing.owner)
    outing.withdraw_whole(outing.owner)
    assert [model.objects.count() for model in (Outing, Stint, Contact, ChecklistLine)] == [0, 0, 0, 0]
    Outing.everything.get().bring_back_whole(outing.owner)
    assert [model.objects.count() for model in (Outing, Stint, Contact, ChecklistLine)] == [1, 1, 1, 1]
    assert not Contact.objects.filter(call="Q9ZZZ").exists()


def test_what_was_changed_after_the_deletion_is_not_overwritten_by_bringing_back():
    outing = an_outing()
    contact = a_contact(outing)
    outing.withdraw_whole(outing.owner)
    contact = Contact.everything.get(pk=contact.pk)
    contact.bring_back(outing.owner)
    with pytest.raises(CannotTakeBack):
        Outing.everything.get().bring_back_whole(outing.owner)
    assert Outing.objects.count() == 0


def test_an_outing_is_ahead_until_its_window_ends():
    owner = an_operator()
    site = a_site(owner)
    running = an_outing(site=site, start="2026-05-01 13:00", hours=3)
    later = an_outing(site=site, start="2026-06-01 13:00")
    over = an_outing(site=site, start="2026-04-01 13:00")
    open_ended = an_outing(site=site, start="2026-03-01 13:00", window_end=None)
    now = a_moment("2026-05-01 15:00")
    assert list(Outing.objects.upcoming(now)) == [running, later]
    assert list(Outing.objects.past(now)) == [over, open_ended]


def test_the_end_of_an_outing_is_planned_or_was_or_is_its_start():
    outing = an_outing(window_end=None)
    assert outing.ends_at == outing.window_start
    outing.ended_at = a_moment("2026-05-01 15:00")
    assert outing.ends_at == outing.ended_at
    outing.window_end = a_moment("2026-05-01 12:00")  # an imported window may be odd
    assert outing.ends_at == outing.window_start


def test_a_site_is_referred_to_by_a_deleted_outing_too():
    outing = an_outing()
    outing.withdraw_whole(outing.owner)
    assert Site.objects.get().is_referred_to()


def test_a_site_at_sea_has_the_nautical_zone():
    site = a_site()
    site.put_at(0.0, -150.2, source=Site.PositionFrom.COORDINATES)
    # Source: nautical zones are 15 degrees wide, centred on multiples of 15 (Anglo-French conference, 1917).
    assert site.time_zone == "Etc/GMT+10"
