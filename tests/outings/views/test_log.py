"""The log of one outing: typing contacts in, mending the last ones, and who may."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from equipment.models import Change
from outings.models import Contact, Outing
from tests.making import a_contact, a_moment, a_radio, a_site, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture(autouse=True)
def now(monkeypatch):
    """It is 14:05:37 UTC on 2026-05-01, an hour after the outing began."""
    moment = a_moment("2026-05-01 14:05:37")
    monkeypatch.setattr(timezone, "now", lambda: moment)
    return moment


@pytest.fixture
def outing():
    return an_outing(goal_contacts=20)


@pytest.fixture
def stint(outing):
    return a_stint(outing, minutes=None, frequency_hz=14_285_000, radio=a_radio(outing.owner))


def log(client, outing, path="", **data):
    return client.post(f"/outings/{outing.pk}/log/contacts/{path}", data)


def only(**conditions):
    return Contact.objects.get(**conditions)


def test_the_page_shows_counts_stints_and_contacts_newest_first(client_of, stint):
    outing = stint.outing
    for minute, call in ((10, "Q0XYZ"), (20, "QA7K"), (30, "Q5T?")):
        a_contact(stint=stint, call=call, at=f"2026-05-01 13:{minute}", pending="?" in call, their_grid="IO91wm")
    response = client_of(outing.owner).get(reverse("outings:log", args=[outing.pk]))
    assert response.status_code == 200
    page = response.content.decode()
    rows = page[page.index('id="contacts"'):]
    assert rows.index("Q5T?") < rows.index("QA7K") < rows.index("Q0XYZ")
    figures = response.context["log"].figures
    assert (figures.contacts, figures.doubtful, figures.missing, figures.last_hour) == (2, 1, 18, 2)
    assert figures.on_air_s == 65 * 60 + 37
    assert figures.sunset_at.date() == datetime.date(2026, 5, 1)


def test_a_call_alone_is_logged_now_with_what_is_on_the_air(client_of, stint, now):
    response = log(client_of(stint.owner), stint.outing, call="q0xyz/p ", stint=stint.pk)
    assert response.status_code == 302 and response.url == f"/outings/{stint.outing_id}/log/"
    contact = only()
    assert (contact.call, contact.started_at, contact.seconds_known) == ("Q0XYZ/P", now, True)
    assert (contact.band, contact.frequency_hz, contact.mode, contact.submode) == ("20m", 14_285_000, "SSB", "USB")
    assert (contact.power_w, contact.rst_sent, contact.rst_rcvd) == (10, "59", "59")
    assert (contact.station_call, contact.operator_call, contact.stint) == ("Q1ABC/P", "Q1ABC", stint)
    assert Change.objects.get(subject=contact.uuid).cause == "log"


def test_everything_that_is_typed_is_kept(client_of, stint):
    log(
        client_of(stint.owner), stint.outing, call="QA7K", time="1403", rst_sent="55", rst_rcvd="-",
        their_grid="io91WM", their_reference=" qs-0007 ", their_programme="Shorelines", name="Ann", state="by",
        comment="thin signal", stint=stint.pk,
    )
    contact = only()
    assert (contact.started_at, contact.seconds_known) == (a_moment("2026-05-01 14:03"), False)
    assert (contact.rst_sent, contact.rst_rcvd) == ("55", "")
    assert (contact.their_grid, contact.their_reference, contact.their_programme) == ("IO91wm", "QS-0007", "Shorelines")
    assert (contact.name, contact.state, contact.comment) == ("Ann", "BY", "thin signal")
    assert contact.distance_km == pytest.approx(930, abs=10) and contact.distance_error_km > 0


def test_where_one_listens_on_another_frequency_is_logged_and_mended(client_of, stint):
    client = client_of(stint.owner)
    log(client, stint.outing, call="QA7K", listening="14.295", stint=stint.pk)
    contact = only()
    assert (contact.frequency_hz, contact.band_rx, contact.frequency_rx_hz) == (14_285_000, "20m", 14_295_000)
    path = f"/outings/{stint.outing_id}/log/contacts/{contact.pk}/mend/"
    shown = client.get(path).context["mend"]
    sent = {field.html_name: field.value() or "" for field in shown}
    assert sent[f"c{contact.pk}-listening"] == "14.295"
    client.post(path, {**sent, f"c{contact.pk}-listening": "loud"})
    assert only().frequency_rx_hz == 14_295_000
    client.post(path, {**sent, f"c{contact.pk}-listening": "", f"c{contact.pk}-stint": stint.pk})
    assert (only().band_rx, only().frequency_rx_hz) == ("", None)


@pytest.mark.parametrize(("mode", "submode", "report"), [("CW", "", "599"), ("FT8", "", ""), ("MFSK", "FT4", "")])
def test_the_report_is_the_usual_one_of_the_mode(client_of, outing, mode, submode, report):
    a_stint(outing, minutes=None, mode=mode, submode=submode)
    log(client_of(outing.owner), outing, call="QA7K")
    assert only().rst_sent == only().rst_rcvd == report


def test_with_htmx_the_row_comes_back_empty_and_the_contact_on_top(client_of, stint):
    response = client_of(stint.owner).post(
        f"/outings/{stint.outing_id}/log/contacts/", {"call": "Q0XYZ", "stint": stint.pk}, **HTMX
    )
    assert response.status_code == 200
    page = response.content.decode()
    assert page.lstrip().startswith('<section id="entry"')
    assert 'id="contacts" hx-swap-oob="true"' in page and 'id="figures" hx-swap-oob="true"' in page
    assert "Logged <span class=\"call\">Q0XYZ</span> 14:05:37" in page
    assert response.context["entry"]["call"].value() is None
    assert 'id="on-air"' not in page  # another form may be half filled there


@pytest.mark.parametrize(
    ("typed", "field", "reason"),
    [
        ({"call": ""}, "call", "required"),
        ({"call": "Q0;XYZ"}, "call", "not ;"),
        ({"call": "Q0XYZ", "time": "2560"}, "time", "no time"),
        ({"call": "Q0XYZ", "time": "1600"}, "time", "still ahead"),
        ({"call": "Q0XYZ", "their_grid": "ZZ11"}, "their_grid", "must be A to R"),
        ({"call": "Q0XYZ", "tuning": "21m"}, "tuning", "Give a band"),
        ({"call": "Q0XYZ", "tuning": "14400"}, "tuning", "no band"),
        ({"call": "Q0XYZ", "mode_typed": "DATA"}, "mode_typed", "no mode"),
        ({"call": "Q0XYZ", "operator_call": "#"}, "operator_call", "not #"),
        ({"call": "Q0XYZ", "stint": "999"}, "stint", "valid choice"),
    ],
)
def test_a_refused_row_keeps_what_was_typed_and_says_why(client_of, stint, typed, field, reason):
    response = log(client_of(stint.owner), stint.outing, **{"name": "Ann", "comment": "kept", **typed})
    assert response.status_code == 422
    form = response.context["entry"]
    assert reason in " ".join(form.errors[field])
    assert 'value="Ann"' in response.content.decode() and 'value="kept"' in response.content.decode()
    assert form.fields[field].widget.attrs.get("autofocus")
    assert not Contact.objects.exists()


def test_a_doubtful_call_is_kept_as_pending_and_counts_apart(client_of, stint):
    log(client_of(stint.owner), stint.outing, call="Q0?YZ", stint=stint.pk)
    assert only().pending and only().call == "Q0?YZ"
    assert not Contact.objects.counted().exists()


def test_a_strange_call_is_shown_once_and_logged_when_sent_again(client_of, stint):
    client = client_of(stint.owner)
    response = log(client, stint.outing, call="QABC", stint=stint.pk)
    assert response.status_code == 422 and "Press Enter again" in response.content.decode()
    assert response.context["entry"].data["sure"] == "QABC"
    assert log(client, stint.outing, call="QABD", sure="QABC", stint=stint.pk).status_code == 422  # another one is new
    log(client, stint.outing, call="QABC", sure="QABC", stint=stint.pk)
    assert only().call == "QABC"


def test_the_same_row_sent_twice_is_one_contact(client_of, stint):
    client, identity = client_of(stint.owner), "6f1c1e0e-3a43-4d1e-9a67-0f53c3a5f5aa"
    for _ in range(2):
        assert log(client, stint.outing, call="Q0XYZ", identity=identity, stint=stint.pk).status_code == 302
    assert str(only().uuid) == identity
    log(client, stint.outing, call="QA7K", identity=identity, stint=stint.pk)  # typed over on a page of the past
    assert Contact.objects.count() == 2


def test_with_nothing_on_the_air_band_and_mode_are_needed_and_enough(client_of, outing):
    client = client_of(outing.owner)
    response = log(client, outing, call="Q0XYZ")
    assert response.status_code == 422 and "Nothing is on the air" in response.content.decode()
    log(client, outing, call="Q0XYZ", tuning="7032", mode_typed="cw")
    contact = only()
    assert (contact.band, contact.frequency_hz, contact.mode, contact.stint) == ("40m", 7_032_000, "CW", None)


def test_a_contact_goes_to_the_stint_of_the_row_when_two_radios_are_on_the_air(client_of, stint):
    other = a_stint(stint.outing, start="2026-05-01 13:30", minutes=None, band="40m", mode="CW", submode="")
    client = client_of(stint.owner)
    log(client, stint.outing, call="Q0XYZ", stint=stint.pk)
    log(client, stint.outing, call="QA7K", stint=other.pk)
    assert only(call="Q0XYZ").stint == stint and only(call="QA7K").stint == other
    assert only(call="QA7K").band == "40m"
    page = client.get(f"/outings/{stint.outing_id}/log/")
    assert page.context["entry"].chosen == other  # the row stays with the radio used last


def test_a_time_before_the_stint_goes_to_the_one_that_was_on_the_air_then(client_of, stint):
    before = a_stint(stint.outing, start="2026-05-01 12:00", minutes=60, band="40m", frequency_hz=7_100_000)
    client = client_of(stint.owner)
    log(client, stint.outing, call="Q0XYZ", time="1230", stint=stint.pk)
    assert (only().stint, only().band) == (before, "40m")
    log(client, stint.outing, call="QA7K", time="1130", stint=stint.pk)
    assert (only(call="QA7K").stint, only(call="QA7K").band) == (None, "20m")


def test_the_serial_number_counts_up_and_the_received_one_is_kept(client_of):
    outing = an_outing(exchange=Outing.Exchange.SERIAL)
    stint = a_stint(outing, minutes=None)
    client = client_of(outing.owner)
    assert client.get(f"/outings/{outing.pk}/log/").context["entry"]["serial_sent"].value() == 1
    log(client, outing, call="Q0XYZ", serial_sent=1, serial_rcvd="042", stint=stint.pk)
    assert (only().serial_sent, only().serial_rcvd) == (1, 42)
    assert client.get(f"/outings/{outing.pk}/log/").context["entry"]["serial_sent"].value() == 2


def test_an_exchange_of_places_has_a_field_and_notes_what_is_given(client_of):
    outing = an_outing(exchange=Outing.Exchange.LOCATION, exchange_text="BB")
    stint = a_stint(outing, minutes=None)
    log(client_of(outing.owner), outing, call="Q0XYZ", exchange_rcvd="NX", stint=stint.pk)
    assert (only().exchange_sent, only().exchange_rcvd) == ("BB", "NX")


def test_the_second_operator_stays_chosen_until_changed(client_of, stint):
    client = client_of(stint.owner)
    log(client, stint.outing, call="Q0XYZ", operator_call="q9op", stint=stint.pk)
    assert only().operator_call == "Q9OP"
    assert client.get(f"/outings/{stint.outing_id}/log/").context["entry"]["operator_call"].value() == "Q9OP"


# --- What is known while typing -----------------------------------------------------------------------------------


def known(client, outing, **data):
    return client.post(f"/outings/{outing.pk}/log/contacts/known/", data, **HTMX)


def test_a_duplicate_is_shown_while_typing_and_may_be_logged(client_of, stint):
    a_contact(stint=stint, call="Q0XYZ")
    client = client_of(stint.owner)
    page = known(client, stint.outing, call="q0xyz", stint=stint.pk).content.decode()
    assert "Duplicate:" in page and "13:10" in page
    assert Contact.objects.count() == 1 and 'name="shown" value="Q0XYZ"' in page
    log(client, stint.outing, call="Q0XYZ", stint=stint.pk, shown="Q0XYZ")
    assert Contact.objects.count() == 2


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["without script", "with script"])
def test_a_duplicate_that_was_not_shown_yet_is_shown_before_it_is_logged(client_of, stint, headers):
    a_contact(stint=stint, call="Q0XYZ")
    client, path = client_of(stint.owner), f"/outings/{stint.outing_id}/log/contacts/"
    sent = {"call": "q0xyz", "stint": stint.pk, "comment": "strong"}
    page = client.post(path, sent, **headers)
    assert page.status_code == 422 and Contact.objects.count() == 1
    text = page.content.decode()
    assert "Duplicate:" in text and "Press Enter again" in text and 'value="strong"' in text
    client.post(path, {**sent, "shown": "Q5OTHER"}, **headers)
    assert Contact.objects.count() == 1
    client.post(path, {**sent, "shown": "Q0XYZ"}, **headers)
    assert Contact.objects.count() == 2


def test_a_new_reference_of_theirs_is_shown_as_no_duplicate(client_of, stint):
    a_contact(stint=stint, call="Q0XYZ", their_reference="QS-0001")
    client = client_of(stint.owner)
    page = known(client, stint.outing, call="Q0XYZ", stint=stint.pk, their_reference="QS-0002").content.decode()
    assert "Duplicate:" not in page and "Worked before" in page
    assert "Duplicate:" in known(
        client, stint.outing, call="Q0XYZ", stint=stint.pk, their_reference="QS-0001"
    ).content.decode()


def test_earlier_contacts_are_shown_with_affixes_too_and_offer_what_they_know(client_of, stint):
    before = an_outing(site=stint.outing.site, start="2026-04-01 13:00")
    a_contact(before, call="Q0XYZ", at="2026-04-01 13:10", name="Ann", their_grid="IO91wm", band="40m")
    a_contact(before, call="Q0XYZ/P", at="2026-04-01 13:20", state="NX")
    a_contact(an_outing(an_operator("Q2DEF")), call="Q0XYZ", name="Not mine")
    client = client_of(stint.owner)
    page = known(client, stint.outing, call="q0xyz", stint=stint.pk).content.decode()
    assert "2026-04-01" in page and "Ann" in page and "Q0XYZ/P" in page and "40m" in page
    assert "Not mine" not in page and "Duplicate:" not in page
    response = known(client, stint.outing, call="q0xyz", stint=stint.pk, take="1", comment="typed", state="HB")
    form = response.context["entry"]
    assert (form["name"].value(), form["their_grid"].value()) == ("Ann", "IO91wm")
    assert (form["state"].value(), form["comment"].value(), form["call"].value()) == ("HB", "typed", "q0xyz")


def test_distance_and_bearing_appear_as_the_grid_is_typed(client_of, stint):
    client = client_of(stint.owner)
    assert "km" in known(client, stint.outing, call="", their_grid="IO91wm", stint=stint.pk).content.decode()
    exact = known(client, stint.outing, call="Q0XYZ", their_grid="IO91wm", stint=stint.pk).content.decode()
    coarse = known(client, stint.outing, call="Q0XYZ", their_grid="IO91", stint=stint.pk).content.decode()
    assert "932" in exact and "W" in exact
    assert "±" in coarse
    assert "km" not in known(client, stint.outing, call="Q0XYZ", their_grid="IO9", stint=stint.pk).content.decode()


def test_without_htmx_looking_up_keeps_the_row_and_shows_the_page(client_of, stint):
    a_contact(stint=stint, call="Q0XYZ")
    response = log(client_of(stint.owner), stint.outing, "known/", call="Q0XYZ", comment="kept", stint=stint.pk)
    page = response.content.decode()
    assert response.status_code == 200 and "<title>" in page
    assert "Duplicate:" in page and 'value="kept"' in page
    assert Contact.objects.count() == 1


# --- Undo, mend, delete -------------------------------------------------------------------------------------------


def test_the_last_contact_is_taken_back_and_brought_back(client_of, stint):
    a_contact(stint=stint, call="QA7K", at="2026-05-01 13:10")
    last = a_contact(stint=stint, call="Q0XYZ", at="2026-05-01 13:20")
    client = client_of(stint.owner)
    assert client.get(f"/outings/{stint.outing_id}/log/").context["log"].latest == last
    log(client, stint.outing, f"{last.pk}/take-back/", last="1")
    assert list(Contact.objects.values_list("call", flat=True)) == ["QA7K"]
    assert last.history().first().cause == "undo"
    page = client.get(f"/outings/{stint.outing_id}/log/")
    assert page.context["log"].latest.call == "QA7K"
    log(client, stint.outing, f"{last.pk}/bring-back/")
    assert Contact.objects.count() == 2


def test_a_contact_is_mended_in_its_row(client_of, stint):
    contact = a_contact(stint=stint, call="Q0?YZ", pending=True)
    client = client_of(stint.owner)
    url = f"{contact.pk}/mend/"
    form = client.get(f"/outings/{stint.outing_id}/log/contacts/{url}").context["mend"]
    data = {form.add_prefix(name): form[name].value() or "" for name in form.fields}
    data |= {f"c{contact.pk}-call": "q0xyz", f"c{contact.pk}-their_grid": "jo62", f"c{contact.pk}-time": "1311"}
    assert log(client, stint.outing, url, **data).status_code == 302
    contact = only()
    assert (contact.call, contact.pending, contact.their_grid) == ("Q0XYZ", False, "JO62")
    assert (contact.started_at, contact.seconds_known) == (a_moment("2026-05-01 13:11"), False)
    assert (contact.band, contact.submode, contact.stint, contact.rst_rcvd) == ("20m", "USB", stint, "57")
    assert set(contact.history().first().before) == {"call", "pending", "their_grid", "started_at", "seconds_known"}


def test_a_refused_mending_keeps_what_was_typed(client_of, stint):
    contact = a_contact(stint=stint)
    data = {f"c{contact.pk}-{name}": value for name, value in
            {"call": "", "time": "1310", "tuning": "20m", "mode_typed": "SSB", "name": "typed"}.items()}
    response = log(client_of(stint.owner), stint.outing, f"{contact.pk}/mend/", **data)
    assert response.status_code == 422 and 'value="typed"' in response.content.decode()
    assert only().name == ""


def test_strays_are_shown_and_given_a_stint(client_of, stint):
    stray = a_contact(stint.outing, at="2026-05-01 12:50")
    other = a_contact(stint.outing, at="2026-05-01 12:51", call="QA7K")
    client = client_of(stint.owner)
    assert client.get(f"/outings/{stint.outing_id}/log/").context["log"].strays == (stray, other)
    data = {"strays-contacts": [stray.pk], "strays-stint": stint.pk}
    log(client, stint.outing, "strays/", **data)
    assert only(pk=stray.pk).stint == stint and only(pk=other.pk).stint is None
    assert log(client, stint.outing, "strays/", **{"strays-stint": stint.pk}).status_code == 422


# --- A log kept on paper ------------------------------------------------------------------------------------------


def test_a_paper_log_fills_down_runs_over_midnight_and_lands_in_its_stints(client_of):
    outing = an_outing(start="2026-04-20 22:00")
    before = a_stint(outing, start="2026-04-20 23:00", minutes=59, frequency_hz=14_285_000)
    after = a_stint(outing, start="2026-04-20 23:59", minutes=60, band="40m", mode="CW", submode="")
    client = client_of(outing.owner)
    page = client.get(f"/outings/{outing.pk}/log/?paper=1").context["entry"]
    assert page["date"].value() == "2026-04-20"
    lines = [("Q0XYZ", "2350"), ("QA7K", "57"), ("Q5TT", "2359"), ("Q6DF", "0003"), ("Q7AA", ""), ("Q8BB", "0130")]
    for call, time in lines:
        form = client.get(f"/outings/{outing.pk}/log/?paper=1").context["entry"]
        response = log(
            client, outing, call=call, time=time, paper="1", after=form["after"].value(), date=form["date"].value(),
            **({"tuning": "40m", "mode_typed": "CW"} if call == "Q8BB" else {}),
        )
        assert response.status_code == 302 and response.url.endswith("?paper=1"), response.context["entry"].errors
    logged = [(c.call, f"{c.started_at:%d %H:%M}", c.band, c.stint) for c in Contact.objects.order_by("id")]
    assert logged == [
        ("Q0XYZ", "20 23:50", "20m", before), ("QA7K", "20 23:57", "20m", before), ("Q5TT", "20 23:59", "40m", after),
        ("Q6DF", "21 00:03", "40m", after), ("Q7AA", "21 00:03", "40m", after), ("Q8BB", "21 01:30", "40m", None),
    ]
    assert not any(Contact.objects.values_list("seconds_known", flat=True))


def test_a_paper_line_that_no_stint_covers_needs_one_or_its_band_and_mode(client_of, outing):
    client = client_of(outing.owner)
    response = log(client, outing, call="Q0XYZ", time="1310", date="2026-05-01", paper="1")
    assert response.status_code == 422 and "No stint covers 13:10" in response.content.decode()
    for date, time in (("", "1310"), ("2026-05-01", ""), ("2026-05-02", "0100")):
        response = log(client, outing, call="Q0XYZ", paper="1", tuning="20m", mode_typed="CW", date=date, time=time)
        assert response.status_code == 422, (date, time)


# --- Who may, and how much it costs -------------------------------------------------------------------------------


def paths(stint, contact):
    log_ = f"/outings/{stint.outing_id}/log/"
    one, row = f"{log_}stints/{stint.pk}/", f"{log_}contacts/{contact.pk}/"
    reads = [log_, f"{log_}figures/", f"{row}mend/", f"{log_}stints/add/", one, f"{one}boundary/", f"{one}delete/"]
    writes = [
        f"{log_}announce/", f"{log_}contacts/", f"{log_}contacts/known/", f"{log_}contacts/strays/", f"{row}mend/",
        f"{row}take-back/", f"{row}bring-back/", f"{log_}stints/begin/", f"{log_}stints/add/", one, f"{one}change/",
        f"{one}pause/", f"{one}resume/", f"{one}stop/", f"{one}boundary/", f"{one}delete/",
    ]
    return reads, writes


def test_every_address_of_the_log_is_closed_to_visitors_and_to_others(client, client_of, stint):
    contact = a_contact(stint=stint)
    other = client_of(an_operator("Q2DEF"))
    reads, writes = paths(stint, contact)
    changes = Change.objects.count()
    data = {"call": "Q0XYZ", "at": "", f"when-{stint.pk}-at": ""}
    for path in reads:
        assert client.get(path).url.startswith("/login/"), path
        assert other.get(path).status_code == 404, path
    for path in writes:
        assert client.post(path, data).url.startswith("/login/"), path
        assert other.post(path, data).status_code == 404, path
    assert Change.objects.count() == changes


def test_rows_of_another_outing_are_not_reached_through_ones_own(client_of, stint):
    mine, theirs = stint.outing, an_outing(an_operator("Q2DEF"))
    foreign_stint, foreign = a_stint(theirs, minutes=None), a_contact(theirs)
    client = client_of(stint.owner)
    _, writes = paths(foreign_stint, foreign)
    for path in writes:
        path = path.replace(f"/outings/{theirs.pk}/", f"/outings/{mine.pk}/")
        if f"/{foreign_stint.pk}/" in path.split("/log/")[1] or f"/{foreign.pk}/" in path.split("/log/")[1]:
            assert client.post(path, {}).status_code == 404, path
    response = log(client, mine, call="Q0XYZ", stint=foreign_stint.pk)
    assert response.status_code == 422
    response = log(client, mine, "strays/", **{"strays-contacts": [foreign.pk], "strays-stint": stint.pk})
    assert response.status_code == 422
    assert Contact.objects.get(pk=foreign.pk).stint is None and foreign_stint.running


def test_writing_needs_post(client_of, stint):
    client = client_of(stint.owner)
    for path in ("contacts/", "contacts/known/", "announce/", f"stints/{stint.pk}/stop/"):
        assert client.get(f"/outings/{stint.outing_id}/log/{path}").status_code == 405


def test_the_announcement_is_noted_with_its_time(client_of, outing):
    client = client_of(outing.owner)
    client.post(f"/outings/{outing.pk}/log/announce/", {"announce-at": "1355"})
    assert Outing.objects.get().announced_at == a_moment("2026-05-01 13:55")
    response = client.post(f"/outings/{outing.pk}/log/announce/", {"announce-at": "noon"})
    assert response.status_code == 422 and 'value="noon"' in response.content.decode()


def test_the_page_costs_the_same_queries_for_few_and_for_many_rows(client_of, outing, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def rows(first, count):
        for number in range(first, first + count):
            stint = a_stint(outing, start=f"2026-05-01 {number % 13:02}:{number % 60:02}", minutes=1)
            a_contact(stint=stint, call=f"Q{number % 10}AB{chr(65 + number % 26)}", their_grid="IO91wm")
            a_contact(outing, call=f"Q{number % 10}XY{chr(65 + number % 26)}")

    client, address = client_of(outing.owner), f"/outings/{outing.pk}/log/"
    rows(0, 2)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    rows(2, 30)
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(many) == len(few) <= 30


def test_all_contacts_are_shown_in_pages_on_request(client_of, outing):
    Contact.objects.bulk_create(
        Contact(owner=outing.owner, outing=outing, call=f"Q{n % 10}A{chr(65 + n // 10)}", station_call="Q1ABC",
                started_at=a_moment("2026-05-01 13:00") + datetime.timedelta(seconds=n), band="20m", mode="CW")
        for n in range(250)
    )
    client, address = client_of(outing.owner), f"/outings/{outing.pk}/log/"
    newest = client.get(address)
    assert len(newest.context["log"].contacts) == 30 and "show all" in newest.content.decode()
    second = client.get(address, {"all": "1", "page": "2"})
    assert len(second.context["log"].contacts) == 50


@pytest.mark.parametrize("number", [0, 29, 30, 199, 200, 249])
def test_any_contact_of_a_long_log_can_be_mended_in_its_row(client_of, outing, number):
    rows = Contact.objects.bulk_create(
        Contact(owner=outing.owner, outing=outing, call=f"Q{n % 10}A{chr(65 + n // 10)}", station_call="Q1ABC",
                started_at=a_moment("2026-05-01 13:00") - datetime.timedelta(seconds=n // 2), band="20m", mode="CW")
        for n in range(250)
    )
    row = rows[number]
    for headers in ({}, HTMX):
        page = client_of(outing.owner).get(f"/outings/{outing.pk}/log/contacts/{row.pk}/mend/", **headers)
        assert f'name="c{row.pk}-call" value="{row.call}"' in page.content.decode()


def test_contacts_of_several_utc_days_are_counted_by_day(client_of):
    outing = an_outing(site=a_site(an_operator()), start="2026-04-30 23:00", hours=4)
    for at in ("2026-04-30 23:30", "2026-04-30 23:59:59", "2026-05-01 00:00"):
        a_contact(outing, at=at, call=f"Q{at[-1]}AA")
    days = client_of(outing.owner).get(f"/outings/{outing.pk}/log/").context["log"].figures.days
    assert [(f"{day.date}", day.contacts) for day in days] == [("2026-04-30", 2), ("2026-05-01", 1)]
