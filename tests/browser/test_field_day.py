"""What the page makes of a day: forgotten stops, the hour and the UTC day, duplicates over midnight, light, set-ups."""

import pytest
from playwright.sync_api import expect

from outings.models import Stint
from tests import browsing, making
from tests.browser.test_field import go_on_air, hand_in, log, opened
from tests.browsing import says

pytestmark = pytest.mark.django_db(transaction=True)

DAY = """async () => {
  const days = await import("/static/field/day.js");
  const words = await import("/static/field/words.js");
  const made = {band: "20m", mode: "SSB"};
  const contact = (call, started_at, more) => (
    {uuid: call + started_at, call, started_at, ...made, stint: "s", ...more});
  const stint = (uuid, started_at, ended_at = null, more = {}) => (
    {uuid, started_at, ended_at, pauses: [], ...made, ...more});
  const outing = {uuid: "o", site: {}, references: [], goal_contacts: 40};
  const board = (more) => ({outing, phone_modes: ["SSB", "FM"], ...more});
  const day = (more) => days.dayOf(board(more), []);
  const at = (text) => Date.parse(text);
  return (WORK)({days, words, contact, stint, board, day, at});
}"""


@pytest.fixture
def page(signed_in_page):
    page = signed_in_page(making.an_operator(), "/field/", viewport=browsing.PHONE)
    page.wait_for_selector("body[data-ready=yes]")
    return page


def made_of(page, work):
    """What a function of the page's own modules returns, given as text."""
    return page.evaluate(DAY.replace("WORK", work))


@pytest.mark.anywhere
def test_a_stop_is_forgotten_after_20_minutes_without_any_entry(page):
    found = made_of(page, """({days, contact, stint, day, at}) => {
      const first = stint("s", "2026-05-01T10:00:00Z");
      const asked = (more, now) => days.forgotten(day({stints: [first], ...more}), at(`2026-05-01T${now}Z`));
      const read = {uuid: "r", at: "2026-05-01T10:15:00Z", pack: 1, voltage_v: 13};
      const paused = {...first, pauses: [{uuid: "p", started_at: "2026-05-01T10:05:00Z", ended_at: null}]};
      const back = {...first, pauses: [{...paused.pauses[0], ended_at: "2026-05-01T10:18:00Z"}]};
      const contacts = [contact("Q1AAA", "2026-05-01T10:10:00Z")];
      return {
        soon: asked({}, "10:20:00"), late: asked({}, "10:20:01")?.lastContactAt,
        contact: asked({contacts}, "10:31:00").lastContactAt - at(first.started_at),
        reading: asked({readings: [read]}, "10:35:00"),
        later: asked({readings: [read]}, "10:35:01").since - at(first.started_at),
        paused: asked({stints: [paused]}, "12:00:00"), back: asked({stints: [back]}, "10:38:00"),
        ended: asked({stints: [{...first, ended_at: "2026-05-01T10:01:00Z"}]}, "12:00:00"),
      };
    }""")
    assert found == {
        "soon": None, "late": None, "contact": 600_000, "reading": None, "later": 900_000, "paused": None, "back": None,
        "ended": None,
    }


@pytest.mark.anywhere
def test_pace_on_air_time_and_utc_days_are_counted(page):
    found = made_of(page, """({days, contact, stint, day, at}) => {
      const contacts = Array.from({length: 12}, (_, number) => contact(`Q${number % 10}AA`,
        new Date(at("2026-05-01T23:00:00Z") + number * 600_000).toISOString().slice(0, 19) + "Z"));
      contacts.push(contact("Q5?", "2026-05-02T00:30:00Z", {pending: true}));
      const pause = {uuid: "p", started_at: "2026-05-01T23:30:00Z", ended_at: "2026-05-01T23:45:00Z"};
      const now = at("2026-05-02T01:00:00Z");
      const stints = [stint("s", "2026-05-01T23:00:00Z", null, {pauses: [pause]})];
      const early = days.counters(day({contacts: [], stints: [stint("s", "2026-05-02T00:30:00Z")]}), now);
      const midnight = at("2026-05-02T00:00:00Z");
      return {
        ...days.counters(day({contacts, stints}), now), early: early.hourIsWhole, change: days.utcDayChange(now) - now,
        midnight: days.utcDayChange(midnight) - midnight,
      };
    }""")
    assert (found["contacts"], found["pending"], found["goal"]) == (12, 1, 40)
    assert found["pastHour"] == 5  # 00:10 to 00:50; one at 00:00 sharp is an hour old
    assert found["newestTenMinutes"] == 100 and found["onAirSeconds"] == 105 * 60
    assert found["days"] == [["2026-05-01", 6], ["2026-05-02", 6]]
    assert (found["hourIsWhole"], found["early"]) == (True, False)
    assert (found["change"], found["midnight"]) == (23 * 3_600_000, 24 * 3_600_000)


@pytest.mark.anywhere
def test_after_utc_midnight_and_with_a_new_reference_a_station_counts_anew(page):
    found = made_of(page, """({days, contact, board, day}) => {
      const contacts = [contact("Q1AAA", "2026-05-01T23:50:00Z", {their_reference: "QS-1"})];
      const usual = contact("Q1AAA", "2026-05-01T23:59:59Z", {their_reference: ""});
      const count = (wanted, more = {}) => days.repeats(board(more), day({contacts}), {...usual, ...wanted}).length;
      const elsewhere = {same_day: [contact("Q2BBB", "2026-05-01T20:00:00Z", {references: []})]};
      const ours = [{programme: "P", reference: "R"}];
      const others = {same_day: [contact("Q2BBB", "2026-05-01T20:00:00Z", {references: ours})]};
      return [
        count({}), count({started_at: "2026-05-02T00:00:00Z"}), count({band: "40m"}), count({mode: "FM"}),
        count({mode: "CW"}), count({their_reference: "qs-2"}), count({their_reference: "qs-1"}),
        count({call: "Q2BBB"}, elsewhere), count({call: "Q2BBB"}, others),
      ];
    }""")
    assert found == [1, 0, 0, 1, 0, 0, 1, 1, 0]


@pytest.mark.anywhere
def test_what_is_typed_becomes_frequencies_powers_and_times(page):
    found = made_of(page, """({words}) => {
      const edges = [["40m", 7_000_000, 7_300_000], ["20m", 14_000_000, 14_350_000], ["2m", 144_000_000, 148_000_000]];
      const now = new Date("2026-05-02T00:10:00Z");
      const tuned = ["14285", "14.285", "14,285 MHz", "14285 kHz", "20 m", "144300", "144.3", "5000"];
      return {
        tuned: tuned.map((text) => words.tuning(text, edges)).map(({band, frequency_hz}) => [band, frequency_hz]),
        none: ["", "fast", "-7", "7 GHz"].map((text) => words.tuning(text, edges)),
        watts: ["5", "0,5", "500 mW", "5W", "five"].map(words.watts), shown: [0.5, 5, null].map(words.powerText),
        times: ["2355", "0005", "235959", "00:05", "2460", "5"].map((text) => words.momentOf(text, now)?.when ?? null),
        calls: ["q0xyz", "Q7ABC/P", "Q5?", "QQ", "Q!", "A/B/C/D/E"].map(words.callOf),
      };
    }""")
    assert found["tuned"] == [
        ["20m", 14285000], ["20m", 14285000], ["20m", 14285000], ["20m", 14285000], ["20m", None], ["2m", 144300000],
        ["2m", 144300000], ["", 5000000],
    ]
    assert found["none"] == [None] * 4
    assert found["watts"] == [5, 0.5, 0.5, 5, None] and found["shown"] == ["500 mW", "5 W", ""]
    assert found["times"] == [
        "2026-05-01T23:55:00Z", "2026-05-02T00:05:00Z", "2026-05-01T23:59:59Z", "2026-05-02T00:05:00Z", None, None,
    ]
    assert found["calls"] == ["Q0XYZ", "Q7ABC/P", "Q5?", None, None, None]


def test_a_forgotten_stop_is_set_back_to_the_last_contact(signed_in_page):
    operator = making.an_operator()
    making.an_arrangement(making.an_antenna(operator), bands=["20m"])
    making.a_pack(operator)
    page = opened(signed_in_page, making.an_outing(operator, start=making.tomorrow()))
    go_on_air(page, ago="90")
    then = page.evaluate("new Date(Date.now() - 40 * 60_000).toISOString().slice(11, 16)")
    log(page, "Q0XYZ", time=then.replace(":", ""))
    page.click(f"#forgotten button:has-text('It ended at {then}')")
    says(page, "#on-air", "Nothing is on the air")
    expect(page.locator("#forgotten")).to_be_hidden()
    hand_in(page)
    stint = Stint.objects.get()
    assert f"{stint.ended_at:%H:%M:%S}" == f"{then}:01" and stint.contacts.get().call == "Q0XYZ"
    assert abs(stint.on_air_s - 50 * 60) <= 61
