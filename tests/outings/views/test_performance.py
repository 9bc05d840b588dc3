"""The performance page and the lists behind its figures: the right numbers reach the page, and nobody else's."""

import io
import statistics

import pytest
from django.core.management import call_command

from outings.models import Contact
from outings.queries import contacts
from tests.making import a_contact, a_site, a_stint, an_antenna, an_arrangement, an_operator, an_outing
from tests.realistic_year import a_year

pytestmark = pytest.mark.django_db

ADDRESSES = ("/performance/", "/performance/contacts/", "/performance/stints/")


def text_of(response):
    return " ".join(response.content.decode().replace("\u00a0", " ").split())


@pytest.fixture
def stint():
    outing = an_outing()
    stint = a_stint(outing, arrangement=an_arrangement(an_antenna(outing.owner, "Wire"), "sloping"), minutes=75)
    for number in range(17):
        contact = a_contact(stint=stint, call=f"Q{number % 10}AB{'CD'[number // 10]}")
        if number < 9:
            Contact.objects.filter(pk=contact.pk).update(
                distance_km=500 + 100 * number, distance_error_km=30, bearing_deg=40 * number
            )
    return stint


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_visitor_is_sent_to_the_login(client, stint, address):
    response = client.get(address)
    assert response.status_code == 302 and response.url.startswith("/login/")


@pytest.mark.parametrize("address", ADDRESSES)
def test_another_operator_sees_nothing_of_mine(client_of, stint, address):
    page = text_of(client_of(an_operator("Q2DEF")).get(address))
    assert "Q1AB" not in page and "Wire, sloping" not in page and "Reed Point" not in page


def test_the_figures_reach_the_page_with_intervals_and_n(client_of, stint):
    page = text_of(client_of(stint.owner).get("/performance/"))
    # Source: 17 contacts in 1.25 h give 13.6 an hour, 7.92 to 21.77 (R's poisson.test, check value T7-A03).
    assert "<strong>14</strong>" in page and "8 to 22" in page
    assert "n = 17 contacts" in page and "Wire, sloping" in page
    assert "raw</strong> figures" in page and "compare like with like" in page
    assert "independently of each other" in page and "too narrow" in page
    # Nine distances from 500 to 1300 km: median 900; 95 % interval from the second to the second largest.
    assert "<strong>900</strong>" in page and "600 to 1200" in page
    assert "1300 ± 30 km" in page
    assert "9<span class=\"visually-hidden\"> contacts of Wire, sloping with a position" in page
    assert "8<span class=\"visually-hidden\"> contacts of Wire, sloping without a position" in page


def test_distances_are_in_the_operators_units(client_of, stint):
    stint.owner.units = "imperial"
    stint.owner.save()
    page = text_of(client_of(stint.owner).get("/performance/"))
    assert "810 ± 20 mi" in page and "in mi" in page and " km" not in page


def test_every_grouping_has_a_page(client_of, stint):
    client = client_of(stint.owner)
    for by in ("arrangement", "antenna", "radio", "pack", "power", "band", "mode", "site", "calling"):
        response = client.get("/performance/", {"by": by})
        assert response.status_code == 200
        assert f'<option value="{by}" selected>' in response.content.decode()


def test_the_contacts_behind_a_figure_are_exactly_those_that_it_counts(client_of, stint):
    other = a_stint(stint.outing, start="2026-05-01 16:00", band="40m")
    a_contact(stint=other, call="Q7OTHER")
    a_contact(stint=stint, call="Q8DOUB?", pending=True)
    client = client_of(stint.owner)
    key = stint.arrangement_id
    for query, count in (
        ({"of": key}, 17), ({"of": key, "position": "known"}, 9), ({"of": key, "position": "unknown"}, 8),
        ({"of": "none"}, 1), ({}, 18), ({"doubtful": "on"}, 1), ({"by": "band", "of": "20m"}, 17),
        ({"band": "40m"}, 1), ({"of": key, "position": "known", "sector": "0"}, 1), ({"of": "999999"}, 0),
        ({"since": "2026-05-02"}, 0), ({"until": "2026-05-01"}, 18), ({"family": "cw"}, 0), ({"hours": "recorded"}, 18),
    ):
        page = client.get("/performance/contacts/", query).context["page"]
        assert len(page.contacts) == count, query


def test_the_contacts_behind_a_figure_are_the_same_where_they_are_too_many_to_count(client_of, stint, monkeypatch):
    a_contact(stint=a_stint(stint.outing, band="40m", start="2026-05-01 20:00"), call="Q9ZZZ")
    client, address = client_of(stint.owner), "/performance/contacts/"
    pages = []
    for counted in (contacts.COUNTED, 3):
        monkeypatch.setattr(contacts, "COUNTED", counted)
        for sort in ("", "farthest"):
            page = client.get(address, {"of": stint.arrangement_id, "sort": sort}).context["page"]
            pages.append([contact.pk for contact in page.contacts])
    assert pages[:2] == pages[2:] and len(pages[0]) == 17 and len(pages[1]) == 9
    assert "more than 3" in text_of(client.get(address, {"of": stint.arrangement_id}))


def test_the_stints_behind_a_figure_open_too(client_of, stint):
    a_stint(stint.outing, start="2026-05-01 16:00", band="40m", inferred=True)
    client = client_of(stint.owner)
    page = text_of(client.get("/performance/stints/", {"of": stint.arrangement_id}))
    assert "1 h 15 min" in page and "40m" not in page
    assert "inferred" in text_of(client.get("/performance/stints/"))


def test_the_links_of_a_figure_keep_the_filter(client_of, stint):
    page = client_of(stint.owner).get("/performance/", {"by": "band", "family": "phone"}).content.decode()
    assert "/performance/contacts/?by=band&amp;family=phone&amp;of=20m" in page


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ({"since": "soon"}, "Enter a valid date"), ({"band": "19m"}, "19m"), ({"by": "luck"}, "luck"),
        ({"since": "2026-05-02", "until": "2026-05-01"}, "The last day is before the first."),
        ({"site": "abc"}, "Select a valid choice"),
    ],
)
def test_a_filter_that_cannot_be_read_says_so_and_chooses_nothing(client_of, stint, query, says):
    client = client_of(stint.owner)
    page = text_of(client.get("/performance/", query))
    assert says in page and "Wire, sloping" not in page.split("</form>")[-1]
    assert not client.get("/performance/contacts/", query).context["page"].contacts
    assert client.get("/performance/stints/", query).status_code == 200


def test_a_site_of_another_operator_cannot_be_asked_for(client_of, stint):
    theirs = a_site(an_operator("Q2DEF"), "Hidden Cove")
    page = text_of(client_of(stint.owner).get("/performance/", {"site": theirs.pk}))
    assert "Select a valid choice" in page and "Hidden Cove" not in page


def test_inferred_running_doubtful_and_stintless_are_told(client_of, stint):
    a_stint(stint.outing, start="2026-05-01 16:00", inferred=True)
    a_stint(stint.outing, start="2026-05-01 17:00", minutes=None)
    a_contact(stint=stint, call="Q8DOUB?", pending=True)
    a_contact(stint.outing, call="Q9LOOSE")
    page = text_of(client_of(stint.owner).get("/performance/"))
    assert "1 of 3 stints" in page and "inferred from imported contacts by a gap rule" in page
    assert "1 stint still running counts up to now" in page
    assert "1 doubtful contact</a> does not count" in page
    assert "in the log belongs to no stint and is left out" in page


def test_a_year_of_imported_logs_reaches_the_page_with_its_known_totals(client_of, tmp_path):
    year = a_year(outings=10)
    operator = an_operator()
    for name, data in year.files:
        (tmp_path / name).write_bytes(data)
        call_command("import_adif", str(tmp_path / name), "--operator", operator.call_sign, stdout=io.StringIO())
    response = client_of(operator).get("/performance/", {"by": "band"})
    found = response.context["found"]
    assert found.total.contacts + found.stintless == year.contacts
    assert found.total.with_position == year.with_grid - Contact.objects.stintless().filter(
        distance_km__isnull=False).count()
    counted = {group.key: group.contacts for group in found.groups}
    for band in Contact.objects.stintless().values_list("band", flat=True):
        counted[band] = counted.get(band, 0) + 1
    assert counted == year.by_band
    assert found.total.inferred == found.total.stints > 0  # no log carries its hours
    for group in found.groups:
        contacts = Contact.objects.filter(stint__band=group.key)
        assert group.on_air_h == sum(stint.on_air_s for stint in {contact.stint for contact in contacts}) / 3600
        known = sorted(contact.distance_km for contact in contacts if contact.distance_km is not None)
        if known:  # to the metre
            assert group.median.value == pytest.approx(statistics.median(known), abs=0.0006)
            assert group.farthest.distance_km == known[-1]
    page = text_of(response)
    for band in year.by_band:
        assert f'<th scope="row">{band}</th>' in page
    assert "inferred</span>" in page and "part inferred" not in page


def test_an_empty_log_says_what_will_be_here(client_of):
    assert "No stints yet" in text_of(client_of(an_operator()).get("/performance/"))


def test_names_with_markup_stay_text(client_of):
    outing = an_outing()
    a_stint(outing, arrangement=an_arrangement(an_antenna(outing.owner, "</script><b>Wire"), "<i>x"))
    page = client_of(outing.owner).get("/performance/").content.decode()
    assert "<b>Wire" not in page and "<i>x" not in page and "\\u003C/script\\u003E\\u003Cb\\u003EWire" in page


def test_the_page_takes_as_many_queries_for_many_groups_as_for_few(client_of, stint, django_assert_max_num_queries):
    client = client_of(stint.owner)
    for number in range(10):
        a_stint(an_outing(stint.owner), arrangement=an_arrangement(an_antenna(stint.owner, f"A{number}"), "flat"))
    with django_assert_max_num_queries(13):  # session, account, figures (4), choices of the filter (6)
        client.get("/performance/")
    with django_assert_max_num_queries(13):
        client.get("/performance/stints/")
    with django_assert_max_num_queries(13):
        client.get("/performance/contacts/")
