"""Pages of handing in an outing's log."""

import io

import pytest
from django.test import Client
from django.urls import reverse

from equipment.models import Antenna, Arrangement, Radio
from outings.adif import adi, adx
from tests.making import a_contact, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db

TWO = [{"programme": "Shorelines", "reference": "QS-0042"}, {"programme": "Hills", "reference": "QH-7"}]


@pytest.fixture
def outing():
    """An outing over UTC midnight at two references, with a doubtful contact."""
    owner = an_operator()
    outing = an_outing(owner, start="2026-05-01 23:00", references=TWO)
    antenna = Antenna.objects.create(owner=owner, name="Wire")
    stint = a_stint(
        outing, start="2026-05-01 23:00", minutes=120, radio=Radio.objects.create(owner=owner, name="Little radio"),
        arrangement=Arrangement.objects.create(owner=owner, antenna=antenna, name="sloping"),
    )
    a_contact(stint=stint, at="2026-05-01 23:10", name="Ægir", their_grid="JO31")
    a_contact(stint=stint, at="2026-05-02 00:10", call="QA7K", power_w=0.5)
    a_contact(stint=stint, at="2026-05-02 00:20", call="Q?", pending=True)
    return outing


def file_of(client, outing, number, ending):
    return client.get(reverse("outings:hand_in_file", args=[outing.pk, number, ending]))


def fields_of(record):
    return {field.name: field.value for field in record.fields}


def test_the_page_names_what_is_missing_and_lists_the_files(outing, client_of):
    page = client_of(outing.owner).get(reverse("outings:hand_in", args=[outing.pk])).content.decode()
    assert "1 contact doubtful, and left out of the files." in page
    assert "1 thing to put right" in page
    for name in ("Q1ABC-P_QS-0042_2026-05-01", "Q1ABC-P_QH-7_2026-05-01", "Q1ABC-P_QS-0042_2026-05-02"):
        assert name in page


def test_a_file_holds_the_contacts_of_its_day_under_its_own_reference(outing, client_of):
    client = client_of(outing.owner)
    response = file_of(client, outing, 4, "adi")
    assert response["Content-Disposition"] == 'attachment; filename="Q1ABC-P_QH-7_2026-05-02.adi"'
    _, records = adi.read(response.content)
    [record] = [fields_of(record) for record in records]
    assert record.items() >= {
        "CALL": "QA7K", "QSO_DATE": "20260502", "TIME_ON": "001000", "BAND": "20m", "FREQ": "14.285", "MODE": "SSB",
        "SUBMODE": "USB", "STATION_CALLSIGN": "Q1ABC/P", "MY_SIG": "Hills", "MY_SIG_INFO": "QH-7", "TX_PWR": "0.5",
        "MY_GRIDSQUARE": "JO62qm", "MY_RIG": "Little radio", "MY_ANTENNA": "Wire: sloping",
    }.items()


def test_adi_is_ascii_and_adx_keeps_every_letter(outing, client_of):
    client = client_of(outing.owner)
    response = file_of(client, outing, 1, "adi")
    assert response.content.isascii()
    assert b"gir" in response.content
    _, records = adx.read(io.BytesIO(file_of(client, outing, 1, "adx").content))
    [record] = [fields_of(record) for record in records]
    assert (record["NAME_INTL"], record["MY_SIG_INFO"]) == ("Ægir", "QS-0042")


def test_what_came_in_a_file_goes_out_as_it_came_under_the_reference_of_this_one(outing, client_of):
    contact = outing.contacts.get(call="QA7K")
    contact.raw = [
        ["CALL", "", "qa7k"], ["QSO_DATE", "", "20260502"], ["TIME_ON", "", "0010"], ["BAND", "", "20M"],
        ["MODE", "", "SSB"], ["APP_QXLAB_ODD", "S", "kept"], ["MY_SIG_INFO", "", "OLD-1"],
        ["STATION_CALLSIGN", "", "Q1ABC/P"],
    ]
    contact.keep(outing.owner)
    [record] = [fields_of(record) for record in adi.read(file_of(client_of(outing.owner), outing, 3, "adi").content)[1]]
    assert (record["APP_QXLAB_ODD"], record["MY_SIG_INFO"]) == ("kept", "QS-0042")


@pytest.mark.parametrize(("number", "ending"), [(9, "adi"), (0, "adi"), (1, "exe"), (1, "ADI")])
def test_a_file_that_there_is_not_is_not_found(outing, client_of, number, ending):
    assert file_of(client_of(outing.owner), outing, number, ending).status_code == 404


def test_others_get_neither_page_nor_file(outing, client_of):
    other = client_of(an_operator("Q2DEF"))
    assert other.get(reverse("outings:hand_in", args=[outing.pk])).status_code == 404
    assert file_of(other, outing, 1, "adi").status_code == 404
    assert Client().get(reverse("outings:hand_in", args=[outing.pk])).status_code == 302
    assert file_of(Client(), outing, 1, "adi").status_code == 302


def test_a_page_and_a_file_take_a_bounded_number_of_queries(outing, client_of, django_assert_max_num_queries):
    stint, client = outing.stints.get(), client_of(outing.owner)
    for minute in range(30):
        a_contact(stint=stint, at=f"2026-05-02 00:{minute:02d}", call=f"Q{minute % 10}AB")
    with django_assert_max_num_queries(6):
        client.get(reverse("outings:hand_in", args=[outing.pk]))
    with django_assert_max_num_queries(10):
        file_of(client, outing, 3, "adi")
