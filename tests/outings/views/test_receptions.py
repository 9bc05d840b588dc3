"""The page of reception reports: a file looked at, kept, matched with stints, deleted."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from outings.models import ReceptionFile, ReceptionReport, Stint
from outings.queries import comparison, receptions
from tests.making import a_stint, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def outing():
    """Two arrangements in turns, six minutes each, from 13:00 on."""
    outing = an_outing()
    antenna = an_antenna(outing.owner)
    ways = [an_arrangement(antenna, name) for name in ("upright", "sloping")]
    for number in range(8):
        a_stint(outing, arrangement=ways[number % 2], start=f"2026-05-01 13:{6 * number:02}", minutes=6, power_w=10)
    return outing


@pytest.fixture
def client(outing, client_of):
    return client_of(outing.owner)


def a_file(better_db=4, receivers=5, minutes=48):
    """Reports of each receiver every two minutes, the sloping wire so much better."""
    lines = ["time,receiver,grid,frequency MHz,SNR"]
    for minute in range(0, minutes, 2):
        sloping = minute // 6 % 2 == 1
        for number in range(receivers):
            snr = -15 + number + (better_db if sloping else 0) + (minute * 7 + number * 3) % 3 - 1
            lines.append(f"2026-05-01 13:{minute:02}:30,Q{number}RX,JO{number}1,14.0971,{snr}")
    return "\n".join(lines)


def bring(client, outing, text=None, **sent):
    file = {"reports": SimpleUploadedFile("heard.csv", (a_file() if text is None else text).encode())}
    return client.post(reverse("outings:reception", args=[outing.pk]), {**file, **sent})


def test_a_file_is_shown_before_anything_is_kept(outing, client):
    answer = bring(client, outing, a_file() + "\nnonsense,Q0RX,,14.1,-3", look="1")
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "How it is read" in text and "120 of 121 lines" in text
    assert "line 122: “nonsense” is no time" in text
    assert not ReceptionReport.objects.exists()
    content = text.split('name="content" value="')[1].split('"')[0]
    kept = client.post(reverse("outings:reception", args=[outing.pk]), {
        "content": content, "file_name": "heard.csv", "keep": "1",
    })
    assert kept.status_code == 302
    assert ReceptionReport.objects.count() == 120
    assert ReceptionReport.objects.first().band == "20m"
    assert receptions.of_outing(outing).receivers[0].distance_km > 100


def test_reports_are_matched_and_compared(outing, client):
    bring(client, outing, keep="1")
    text = client.get(reverse("outings:reception", args=[outing.pk])).content.decode()
    assert "Wire antenna, sloping is heard" in text or "Wire antenna, upright is heard" in text
    found = receptions.of_outing(outing)
    row = next(row for row in found.compared.arrangements if row.arrangement != found.compared.reference)
    assert abs(row.difference) == pytest.approx(4, abs=0.5)
    assert (row.paired_receivers, row.switches) == (5, 7)
    judged = comparison.judged(outing.owner, Stint.objects.all(), measure="heard")
    assert judged.state == "told"
    page = client.get(reverse("outings:evidence"), {"measure": "heard"}).content.decode()
    assert "is heard" in page


def test_what_belongs_to_no_stint_is_counted_apart(outing, client):
    bring(client, outing, a_file() + "\n2026-05-01 14:30,Q0RX,,14.1,-3\n2026-05-01 13:03,Q0RX,,7.1,-3", keep="1")
    text = client.get(reverse("outings:reception", args=[outing.pk])).content.decode()
    assert "1 while nothing was on the air" in text
    assert "1 on a band that was not on the air" in text


def test_reports_in_a_pause_and_at_another_power_are_seen_to(outing):
    stint = Stint.objects.filter(outing=outing).first()
    stint.power_w = 1.0
    stint.keep(outing.owner)
    file = ReceptionFile.objects.create(owner=outing.owner, outing=outing, name="x", lines=1)
    ReceptionReport.objects.create(
        owner=outing.owner, outing=outing, file=file, at=stint.started_at, receiver="Q0RX", frequency_hz=14_097_100,
        band="20m", snr_db=-20,
    )
    found = receptions.matched(outing.owner, Stint.objects.all())
    assert found.heard[0].snr_db == pytest.approx(-10)  # closed form: 10 log(10/1)
    assert found.normalised == 1
    stint.pauses.create(owner=outing.owner, started_at=stint.started_at, ended_at=stint.ended_at)
    assert receptions.matched(outing.owner, Stint.objects.all()).unmatched["pause"] == 1


def test_the_same_file_twice_keeps_each_report_once(outing, client):
    bring(client, outing, keep="1")
    answer = client.post(reverse("outings:reception", args=[outing.pk]),
                         {"reports": SimpleUploadedFile("again.csv", a_file().encode()), "keep": "1"}, follow=True)
    assert "120 were here already" in answer.content.decode()
    assert ReceptionReport.objects.count() == 120


@pytest.mark.parametrize(("text", "words"), [
    ("", "empty"), ("hello", "No table"), ("a,b,c\n1,2,3", "no column was recognised"),
    ("time,rx,freq,snr\nx,y,z,w", "line 2: “x” is no time"),
])
def test_what_is_no_file_of_reports_is_refused(outing, client, text, words):
    answer = bring(client, outing, text, keep="1")
    assert answer.status_code == 422
    assert words.lower() in answer.content.decode().lower()
    assert not ReceptionFile.objects.exists()


def test_columns_may_be_said_and_nonsense_is_refused(outing, client):
    answer = bring(client, outing, "a,b,c,d,e\n2026-05-01 13:03,Q0RX,14.1,5,-9", look="1")
    assert "SNR" in answer.content.decode()
    content = answer.content.decode().split('name="content" value="')[1].split('"')[0]
    address = reverse("outings:reception", args=[outing.pk])
    client.post(address, {"content": content, "snr": "4", "keep": "1"})
    assert ReceptionReport.objects.get().snr_db == -9
    assert client.post(address, {"content": "garbage", "keep": "1"}).status_code == 422
    assert client.post(address, {"keep": "1"}).status_code == 422


def test_a_file_shows_its_bad_lines_and_goes_with_its_reports(outing, client):
    bring(client, outing, a_file() + "\n<script>,Q0RX,,14.1,-3", keep="1")
    file = ReceptionFile.objects.get()
    text = client.get(reverse("outings:reception_file", args=[outing.pk, file.pk])).content.decode()
    assert "&lt;script&gt;" in text and "<script>," not in text
    delete = reverse("outings:reception_delete", args=[outing.pk, file.pk])
    assert "120 reports" in client.get(delete).content.decode()
    client.post(delete)
    assert not ReceptionReport.objects.exists()


def test_visitors_and_others_reach_nothing(outing, client, client_of):
    bring(client, outing, keep="1")
    file = ReceptionFile.objects.get()
    other = client_of(an_operator("Q2DEF"))
    for name, arguments in (("reception", [outing.pk]), ("reception_delete", [outing.pk, file.pk])):
        address = reverse(f"outings:{name}", args=arguments)
        assert Client().post(address, {"keep": "1"}).status_code == 302
        assert other.post(address, {"keep": "1"}).status_code == 404
    assert ReceptionReport.objects.count() == 120


def test_the_page_takes_a_bounded_number_of_queries(outing, client, django_assert_max_num_queries):
    bring(client, outing, keep="1")
    with django_assert_max_num_queries(8):
        receptions.of_outing(outing)
