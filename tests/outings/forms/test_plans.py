"""What the form of a plan takes and refuses: times in local time and UTC, calls, and only one's own site and kit.

Sources of the clock changes: see tests/outings/test_windows.py.
"""

import pytest
from django.http import QueryDict

from outings import geography
from outings.forms.plans import OutingForm
from outings.models import Outing
from tests.making import a_contact, a_kit, a_moment, a_site, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return a_site()


def form_of(site, outing=None, /, **data):
    fields = {
        "site": site.pk, "station_call": "Q1ABC/P", "times_in": "local", "date": "2026-06-21", "start_time": "14:00",
        "end_time": "18:00", "exchange": "report", **data,
    }
    query = QueryDict(mutable=True)
    for name, value in fields.items():
        query.setlist(name, value if isinstance(value, list) else [value])
    operator = site.owner
    return OutingForm(query, instance=outing or Outing(owner=operator), operator=operator)


def saved(form):
    assert form.is_valid(), form.errors
    return form.save()


def test_local_times_are_stored_in_utc(site):
    outing = saved(form_of(site))
    assert (outing.window_start, outing.window_end) == (a_moment("2026-06-21 12:00"), a_moment("2026-06-21 16:00"))


def test_utc_times_are_stored_as_typed(site):
    outing = saved(form_of(site, times_in="utc"))
    assert (outing.window_start, outing.window_end) == (a_moment("2026-06-21 14:00"), a_moment("2026-06-21 18:00"))


def test_an_end_earlier_than_the_start_is_on_the_next_day(site):
    outing = saved(form_of(site, start_time="22:00", end_time="03:30"))
    assert (outing.window_start, outing.window_end) == (a_moment("2026-06-21 20:00"), a_moment("2026-06-22 01:30"))


def test_a_window_over_several_days_has_a_last_date(site):
    outing = saved(form_of(site, end_date="2026-06-23"))
    assert outing.window_end == a_moment("2026-06-23 16:00")


def test_a_site_on_the_other_side_of_the_date_line_has_its_own_date():
    samoa = a_site(latitude_deg=-13.76, longitude_deg=-172.1, grid="AH36wf", time_zone="Pacific/Apia")
    outing = saved(form_of(samoa, date="2026-06-22", start_time="08:00", end_time="12:00"))
    assert (outing.window_start, outing.window_end) == (a_moment("2026-06-21 19:00"), a_moment("2026-06-21 23:00"))


def test_a_time_that_the_clocks_go_past_is_refused_and_what_was_typed_stays(site):
    form = form_of(site, date="2026-03-29", start_time="02:30", end_time="06:00")
    assert "There is no 02:30 on 2026-03-29 in Europe/Berlin" in form.errors["start_time"][0]
    assert form["start_time"].value() == "02:30"


def test_a_time_that_comes_twice_asks_which_and_takes_the_answer(site):
    typed = {"date": "2026-10-25", "start_time": "02:30", "end_time": "06:00"}
    form = form_of(site, **typed)
    assert "comes twice" in form.errors["start_which"][0]
    assert [field.name for field in form.doubtful_times] == ["start_which"]
    assert saved(form_of(site, **typed, start_which="first")).window_start == a_moment("2026-10-25 00:30")
    outing = saved(form_of(site, **typed, start_which="second"))
    assert outing.window_start == a_moment("2026-10-25 01:30")
    assert OutingForm(instance=outing, operator=site.owner)["start_which"].value() == "second"


def test_a_window_over_a_clock_change_is_as_long_as_it_really_is(site):
    outing = saved(form_of(site, date="2026-03-28", start_time="22:00", end_time="06:00"))
    assert (outing.window_end - outing.window_start).total_seconds() == 7 * 3600


def test_a_new_plan_takes_the_references_of_the_site_and_an_edited_one_keeps_its_own(site):
    outing = saved(form_of(site))
    assert outing.references == site.references
    again = saved(form_of(site, outing, references_programme=[""], references_reference=[""]))
    assert again.references == []


def test_bands_are_kept_from_long_waves_to_short(site):
    assert saved(form_of(site, bands=["20m", "40m", "2m"])).bands == ["40m", "20m", "2m"]


def test_the_call_is_written_the_usual_way(site):
    assert saved(form_of(site, station_call=" q1abc/p ")).station_call == "Q1ABC/P"


def test_numbers_may_have_a_decimal_comma(site):
    outing = saved(form_of(site, solar_flux="142,5", a_index="8", k_index="2.33"))
    assert (outing.solar_flux, outing.a_index, outing.k_index) == (142.5, 8, 2.33)


def test_the_announcement_has_its_own_date_and_time(site):
    outing = saved(form_of(site, announced="2026-06-20T19:30"))
    assert outing.announced_at == a_moment("2026-06-20 17:30")


def test_arrival_and_departure_are_stored_in_utc_and_taken_out_again(site):
    outing = saved(form_of(site, arrived="2026-06-21T13:20", left="2026-06-21 18:45"))
    assert (outing.started_at, outing.ended_at) == (a_moment("2026-06-21 11:20"), a_moment("2026-06-21 16:45"))
    outing = saved(form_of(site, outing, times_in="utc", arrived="2026-06-21T13:20"))
    assert (outing.started_at, outing.ended_at) == (a_moment("2026-06-21 13:20"), None)


def test_a_departure_in_the_hour_that_comes_twice_asks_which(site):
    # Source: Directive 2000/84/EC: summer time ends on the last Sunday in October at 01:00 UTC.
    night = {"date": "2026-10-24", "end_date": "2026-10-25", "left": "2026-10-25T02:30"}
    form = form_of(site, **night)
    assert not form.is_valid()
    assert [field.name for field in form.doubtful_moments] == ["left_which"]
    assert saved(form_of(site, left_which="second", **night)).ended_at == a_moment("2026-10-25 01:30")


@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"site": ""}, "site", "required"),
        ({"date": "21.6.2026"}, "date", "year-month-day"),
        ({"date": "2026-02-30"}, "date", "year-month-day"),
        ({"start_time": "noon"}, "start_time", "no time of day"),
        ({"end_time": ""}, "end_time", "required"),
        ({"end_date": "2026-06-20"}, "end_time", "not after the start"),
        ({"end_date": "2026-07-20"}, "end_date", "at most seven days"),
        ({"station_call": "Q1?BC"}, "station_call", "question mark"),
        ({"station_call": "Q1 ÄBC"}, "station_call", "letters, digits and slashes"),
        ({"station_call": ""}, "station_call", "required"),
        ({"bands": ["11m"]}, "bands", "11m"),
        ({"goal_contacts": "0"}, "goal_contacts", "1"),
        ({"k_index": "10"}, "k_index", "9"),
        ({"solar_flux": "high"}, "solar_flux", "number"),
        ({"exchange": "location"}, "exchange_text", "state, province or country"),
        ({"announced": "yesterday"}, "announced", "2026-06-21 14:05"),
        ({"arrived": "noon"}, "arrived", "2026-06-21 14:05"),
        ({"arrived": "2026-06-21T14:00", "left": "2026-06-21T13:00"}, "left", "after the arrival, 2026-06-21 12:00"),
        ({"arrived": "2026-06-21T14:00", "left": "2026-07-21T13:00"}, "left", "at most seven days"),
        ({"references_programme": ["Hills"], "references_reference": [""]}, "references", "Hills is missing"),
        ({"date": "9999-12-31"}, "date", "year 9999 cannot be right"),
        ({"date": "2026-06-21", "end_date": "0001-01-01"}, "end_date", "year 1 cannot be right"),
    ],
)
def test_bad_input_is_refused_with_a_sentence(site, data, field, words):
    form = form_of(site, **data)
    assert not form.is_valid()
    assert words in " ".join(form.errors[field])


def test_the_site_and_the_kit_of_another_operator_are_not_there(site):
    other = an_operator("Q2DEF")
    form = form_of(site, site=a_site(other).pk, kit=a_kit(other).pk)
    assert {"site", "kit"} <= form.errors.keys()
    assert "not one of the available choices" in form.errors["kit"][0]


def test_a_retired_site_is_no_choice_except_where_it_was_chosen(site):
    outing = an_outing(site=site)
    site.retire(a_moment().date())
    assert "site" in form_of(site).errors
    assert saved(form_of(site, outing)).site == site


def test_saving_unchanged_changes_nothing_and_leaves_no_trace(site):
    outing = saved(form_of(site, bands=["20m"], announced="2026-06-20T19:30"))
    outing.window_start = outing.window_start.replace(second=42)
    outing.keep(site.owner)
    shown = OutingForm(instance=Outing.objects.get(pk=outing.pk), operator=site.owner)
    data = {name: shown[name].value() for name in shown.fields if name != "references"}
    data = {name: "" if value is None else value for name, value in data.items()}
    pairs = {"references_programme": ["Shorelines"], "references_reference": ["QS-0042"]}
    before = outing.history().count()
    again = saved(form_of(site, Outing.objects.get(pk=outing.pk), **{**data, **pairs}))
    assert again.window_start.second == 42
    assert outing.history().count() == before


def test_every_save_is_kept_in_the_history(site):
    outing = saved(form_of(site))
    saved(form_of(site, outing, goal_contacts="44"))
    assert [change.cause for change in outing.history()] == ["edit", "plan"]


def test_an_outing_moved_to_another_site_has_its_distances_from_there(site):
    outing = an_outing(site=site)
    contact = a_contact(outing, their_grid="IO91wm")
    other = a_site(site.owner, "High Moor", latitude_deg=48.1, longitude_deg=11.6)
    saved(form_of(site, outing, site=other.pk))
    assert type(contact).objects.get().distance_km != contact.distance_km
    assert type(contact).objects.get().distance_km == pytest.approx(
        geography.way(other.place, geography.place_of_grid("IO91wm")).distance_km
    )
