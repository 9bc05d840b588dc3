"""The demo scenario in a log: loaded once and whole, and out again without touching anything else."""

import datetime

import pytest

from equipment.models import Arrangement, Change, Coil, Item, Kit, Pack, PackLog, PackReading, Radio, Sweep
from equipment.queries.coils import tap_lines, tap_states
from equipment.queries.pack_logs import pack_health
from outings.demo import loading
from outings.models import Contact, DemoScenario, Note, Outing, Site, Stint
from outings.queries.energy import learned_use, outing_energy
from tests.making import a_contact, a_shared_page, a_site, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db

TODAY = datetime.date(2026, 11, 25)
MODELS = (
    Site, Item, Arrangement, Coil, Kit, Outing, Stint, Contact, PackReading, PackLog, Sweep, Note, DemoScenario, Change,
)


def counts(operator):
    return {model.__name__: model._base_manager.filter(owner=operator).count() for model in MODELS}


@pytest.fixture
def operator():
    return an_operator()


@pytest.fixture
def demo(operator):
    return loading.load(operator, TODAY)


def test_it_fills_the_log(operator, demo):
    found = counts(operator)
    assert (found["Outing"], found["Site"], found["Arrangement"], found["Kit"], found["Note"]) == (24, 8, 7, 3, 6)
    assert (Radio.objects.of(operator).count(), Pack.objects.of(operator).count()) == (2, 3)
    assert 850 <= found["Contact"] <= 950
    contact = Contact.objects.of(operator).exclude(their_grid="").first()
    assert contact.distance_km > 0 and contact.stint.outing == contact.outing
    paused = Stint.objects.of(operator).filter(pauses__isnull=False).first()
    assert paused.on_air_s == (paused.ended_at - paused.started_at).total_seconds() - 360
    assert all(site.time_zone and len(site.grid) >= 8 for site in Site.objects.of(operator))
    every_name_says_that_it_is_a_demo(operator)


def every_name_says_that_it_is_a_demo(operator):
    for model in (Site, Item, Kit):
        assert all(row.name.startswith("Demo: ") for row in model.objects.of(operator))
    assert all(note.title.startswith("Demo: ") for note in Note.objects.of(operator))
    assert all(str(outing).startswith("Demo: ") for outing in Outing.objects.of(operator).select_related("site"))


@pytest.mark.anywhere
def test_a_coil_has_taps_that_hold_and_one_that_does_not(operator, demo):
    coil = Coil.objects.of(operator).get()
    (arrangement,) = coil.arrangements()
    states = tap_states(arrangement, coil)
    assert {state.tap.band: state.holds for state in states} == {"40m": True, "30m": False, "20m": True}
    assert all(abs(line.off_percent) < 5 for line in tap_lines(coil))


@pytest.mark.anywhere
def test_every_pack_was_tested_and_its_charges_tell_the_use_on_the_air(operator, demo):
    for pack in Pack.objects.of(operator):
        test = pack.logs.tests().complete().first()
        assert test.resistance_ohm and pack.measured_ah == test.ah and pack.measured_on == test.started_at.date()
    pack = Pack.objects.of(operator).get(name="Demo: Six-hour pack")
    found = learned_use(operator, [pack.pk])
    assert found.charges >= 3 and 0.3 < found.middle_a < 0.6
    assert len(pack_health(pack).picture.data["panels"][0]["lines"][0]["points"]) == 2
    assert outing_energy(Outing.objects.of(operator).latest("window_start")).answer.word == "yes"


def test_two_logs_get_the_same_demo_and_keep_apart(operator, demo):
    other = an_operator("Q2DEF")
    loading.load(other, TODAY)

    def told(owner):
        rows = Contact.objects.of(owner).order_by("started_at", "uuid")
        return list(rows.values_list("uuid", "call", "started_at", "distance_km"))

    assert told(operator) == told(other)
    loading.remove(other)
    assert counts(operator)["Contact"] == len(told(operator)) > 0
    assert not any(counts(other).values())


def test_loading_it_twice_is_refused_and_removing_it_leaves_nothing_behind(operator, demo):
    before = counts(operator)
    with pytest.raises(loading.DemoError, match="already"):
        loading.load(operator, TODAY)
    assert counts(operator) == before
    a_shared_page("kit", Kit.objects.of(operator).first())
    assert loading.remove(operator) == []
    assert not any(counts(operator).values())


def test_removing_what_is_not_there_is_refused(operator):
    with pytest.raises(loading.DemoError, match="no demo"):
        loading.remove(operator)


def test_removing_it_keeps_what_is_ones_own_and_what_that_depends_on(operator, demo):
    own = a_contact(an_outing(operator, site=a_site(operator)))
    changes = own.history().count()
    arrangement = Arrangement.objects.of(operator).get(name="loop on the tripod")
    stint = a_stint(own.outing, arrangement=arrangement)
    outing = Outing.objects.of(operator).filter(site__name="Demo: Tower Hill").first()
    at_the_demos = a_contact(outing)
    at_the_demos.withdraw(operator)

    stayed = loading.remove(operator)

    for row in (own, stint):
        row.refresh_from_db()
    assert own.history().count() == changes
    assert stint.arrangement == arrangement
    at_the_demos.bring_back(operator)  # what was deleted can still be brought back
    assert set(Contact.objects.of(operator)) == {own, at_the_demos}
    assert set(Outing.objects.of(operator)) == {own.outing, outing}
    assert set(Site.objects.of(operator)) == {own.outing.site, outing.site}
    told = " ".join(stayed)
    assert "loop on the tripod" in told and "Small loop" in told and "Tower Hill" in told and "Hill kit" in told
    assert Note.objects.of(operator).count() == 0
    assert not loading.is_loaded(operator)
