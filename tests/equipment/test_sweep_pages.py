"""Pages of sweeps: a file shown, then kept; one sweep, several compared, files handed out; what is refused."""

import base64
import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from equipment import bands
from equipment.models import Antenna, Arrangement, Change, Feedline, Sweep
from equipment.physics import sweep as curves
from equipment.physics import sweep_files
from equipment.queries import sweeps as queries
from equipment.views.sweeps import note_text
from tests import making

pytestmark = pytest.mark.django_db


@pytest.fixture
def arrangement():
    return making.an_arrangement(bands=("20m", "40m"), feedpoint_height_m=1.5)


def a_file(content=None, name="garden.s1p"):
    return SimpleUploadedFile(name, making.a_sweep_file() if content is None else content)


def typed(**fields):
    return {"taken_at": "2026-05-01T11:00", "plane": "feedpoint", "typed_in": "metric", **fields}


def held(content, name="garden.s1p", **fields):
    """What the page of a file that was read sends when it is told to keep it."""
    return typed(held=base64.b64encode(content).decode(), held_name=name, keep="1", **fields)


def text_of(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode())).replace("\u00a0", " ")


def address(arrangement):
    return f"/gear/arrangements/{arrangement.pk}/sweeps/new/"


def test_a_file_is_shown_before_anything_is_kept(client_of, arrangement):
    answer = client_of(arrangement.owner).post(address(arrangement), typed(file=a_file(), place="meadow"))
    said = text_of(answer)
    assert answer.status_code == 200 and "Is this what was measured?" in said
    for words in (
        "Touchstone, one port", "real and imaginary part", "Frequencies in MHz", "50 Ω", "131, from 13.500 MHz"
    ):
        assert words in said
    assert "20m 1.19 at 14.15 MHz" in said
    assert 'value="meadow"' in answer.content.decode()
    assert not Sweep.everything.exists() and not Change.objects.filter(kind="equipment.sweep").exists()


def test_what_was_shown_is_kept_with_all_that_belongs_to_it(client_of, arrangement):
    line = making.a_feedline(arrangement.owner, line_type="RG-58", length_m=15)
    answer = client_of(arrangement.owner).post(address(arrangement), held(
        making.a_sweep_file(), band="20m", place="meadow", feedpoint_height_m="2,5", conditions="wet", plane="line",
        feedline=line.pk,
    ), follow=True)
    kept = Sweep.objects.get()
    assert (kept.arrangement, kept.band, kept.place, kept.feedpoint_height_m, kept.conditions) == (
        arrangement, "20m", "meadow", 2.5, "wet"
    )
    assert (kept.plane, kept.feedline, kept.taken_at) == ("line", line, making.a_moment("2026-05-01 11:00"))
    assert bytes(kept.original) == making.a_sweep_file() and kept.file_name == "garden.s1p"
    assert kept.history().get().actor == arrangement.owner
    said = text_of(answer)
    assert "At the radio, as measured" in said and "At the feedpoint, computed through Thin coax, RG-58" in said


def test_a_page_that_was_read_from_one_file_shows_another_before_keeping_it(client_of, arrangement):
    other = making.a_sweep_file(6.5, 7.7, resonance_mhz=7.1)
    sent = held(making.a_sweep_file()) | {"file": a_file(other, "other.s1p")}
    answer = client_of(arrangement.owner).post(address(arrangement), sent)
    assert "from 6.500 MHz" in text_of(answer) and not Sweep.objects.exists()


def test_a_csv_says_how_it_was_read_and_takes_another_unit(client_of, arrangement):
    client, content = client_of(arrangement.owner), b"Frequenz;f;SWR\n1;7,0;2,5\n2;7,1;1,2\n3;7,2;2,6\n"
    said = text_of(client.post(address(arrangement), typed(file=a_file(content, "a.csv"))))
    for words in ("semicolons", "Decimals after a comma", "SWR only", "MHz, judged by their size"):
        assert words in said
    again = held(content, "a.csv", unit="GHZ", z0_ohm="75")
    del again["keep"]
    said = text_of(client.post(address(arrangement), again))
    assert "GHz, as you chose" in said and "Reference 75 Ω" in said and not Sweep.objects.exists()


def test_the_same_file_again_is_pointed_out(client_of, arrangement):
    making.a_sweep(arrangement)
    said = text_of(client_of(arrangement.owner).post(address(arrangement), typed(file=a_file())))
    assert "The same file is kept already" in said


@pytest.mark.parametrize(
    ("content", "name", "said"),
    [(b"# MHZ S RI R 50\n14 0.1\n", "x.s1p", "Line 2: a one-port file has three numbers"), (b"", "x.s1p", "empty"),
     (b"# MHZ Z RI R 50\n", "x.s1p", "Line 1: the file holds Z parameters"), (b"\0\1\2", "x.s1p", "not a text file"),
     (b"freq,swr\n7,1.2\n7.1,abc\n7.2,2\n", "x.csv", "Line 3: “abc” is not a number"),
     (b"x" * (2**20 + 1), "x.csv", "at most 1 MB"), (making.a_sweep_file(), "x.s2p", "2 ports")],
)
def test_a_bad_file_is_refused_with_its_line_and_nothing_is_stored(client_of, arrangement, content, name, said):
    answer = client_of(arrangement.owner).post(address(arrangement), typed(file=a_file(content, name)))
    assert answer.status_code == 422 and said in text_of(answer)
    assert not Sweep.everything.exists() and not Change.objects.filter(kind="equipment.sweep").exists()


@pytest.mark.parametrize(
    ("fields", "said"),
    [({"taken_at": "2999-01-01T00:00"}, "has not come yet"), ({"band": "40m"}, "does not reach 40m"),
     ({"band": "2m"}, "valid choice"), ({"plane": "moon"}, "valid choice"),
     ({"feedpoint_height_m": "-1"}, "below zero"),
     ({"held": "no base64!"}, "did not come through the page"), ({"held": ""}, "Choose the file"),
     ({"feedline": "424242", "plane": "line"}, "valid choice"), ({"unit": "lightyears"}, "valid choice")],
)
def test_what_cannot_be_is_refused_and_the_file_need_not_be_chosen_again(client_of, arrangement, fields, said):
    answer = client_of(arrangement.owner).post(address(arrangement), held(making.a_sweep_file()) | fields)
    assert answer.status_code == 422 and said in text_of(answer)
    assert not Sweep.everything.exists()
    if "held" not in fields:
        assert base64.b64encode(making.a_sweep_file()).decode() in answer.content.decode()


@settings(max_examples=60, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(
    st.binary(min_size=1, max_size=200),
    st.text(alphabet="#!SRIMADBGHZ0123456789.-e \n[],;\t", min_size=1, max_size=200),
))
def test_hostile_files_end_in_a_page_and_store_nothing(arrangement, content):
    content = content if isinstance(content, bytes) else content.encode()
    client = Client()
    client.force_login(arrangement.owner)
    for name in ("x.s1p", "x.csv", "<b>.txt"):
        answer = client.post(address(arrangement), typed(file=a_file(content, name)))
        assert answer.status_code in (200, 422)
        assert ('class="error-summary"' in answer.content.decode()) == (answer.status_code == 422)
        assert "<b>.txt" not in answer.content.decode()
    assert not Sweep.everything.exists()


EDGES = st.sampled_from([0, 1, -1, 1j, -1j, 0.999, 1.5, 99, 1e-300, 5e-324, 1 - 1e-16, 1 + 1e-12])
REFLECTIONS = st.one_of(EDGES, st.complex_numbers(max_magnitude=1.2, allow_nan=False, allow_infinity=False))
MARKED = st.sampled_from([7e6, 7.3e6, 14e6, 14.35e6, 1e-3, 1e13])
FREQUENCIES = st.one_of(MARKED, st.floats(1, 1e13), st.floats(1e6, 3e7))


@settings(max_examples=60, derandomize=True, phases=[Phase.generate])
@given(
    st.dictionaries(FREQUENCIES, REFLECTIONS, min_size=2, max_size=7), st.sampled_from([50.0, 75.0, 0.1, 1e6]),
    st.booleans(), st.sampled_from(["line", "feedpoint"]), st.sampled_from(["RG-58", "RG-174", "ladder", ""]),
    st.sampled_from([None, 0.0, 1.0, 30.0, 900.0]),
)
def test_whatever_can_be_kept_can_be_shown(points, z0, phase_known, plane, line_type, length_m):
    line = Feedline(name="line", line_type=line_type, length_m=length_m)
    sweep = Sweep(arrangement=Arrangement(feedline=line, antenna=Antenna()), plane=plane, feedline=line)
    gamma = {hz: complex(value) if phase_known else complex(abs(value)) for hz, value in sorted(points.items())}
    sweep.z0_ohm, sweep.phase_known = z0, phase_known
    sweep.points = curves.packed(curves.Sweep(tuple(gamma), tuple(gamma.values())))
    found = queries.shown(sweep)
    pictures = queries.pictures([(view.title, view) for view in found.views])
    queries.pictures([(view.title, view) for view in found.views], bands.named("20m"))
    swr, ohms = pictures
    page = render_to_string("equipment/sweeps/_bands.html", {"found": found, "swr": swr, "ohms": ohms})
    page += render_to_string("equipment/sweeps/_pictures.html", {"swr": swr, "ohms": ohms})
    assert not re.search(r"\b(nan|inf|infinity|none)\b", page.lower().replace("display: none", ""))
    for view in found.views:
        assert note_text(view, Sweep(taken_at=making.a_moment(), pk=1)) and view.best_bands is not None
        if phase_known:
            sweep_files.read_touchstone(sweep_files.write_touchstone(view.curve).encode())


def test_the_page_of_a_sweep_shows_every_figure_and_its_picture(client_of):
    sweep = making.a_sweep(place="meadow", feedpoint_height_m=2.5, conditions="dew")
    said = text_of(answer := client_of(sweep.owner).get(sweep.get_absolute_url()))
    for words in (
        "20m 1.19 at 14.15 MHz", "14.15 MHz, 42.0 Ω", "n = 131 points, about 10 kHz apart", "meadow", "2.5 m", "dew",
        "all of it, 350 kHz", "dip 756 kHz", "bench.s1p",
    ):
        assert words in said
    assert 'data-picture="sweeps"' in answer.content.decode()


def test_a_sweep_through_a_line_of_unknown_loss_says_so(client_of):
    line = making.a_feedline(line_type="ladder line")
    arrangement = making.an_arrangement(making.an_antenna(line.owner))
    sweep = making.a_sweep(arrangement, plane="line", feedline=line)
    assert "Not moved to the feedpoint: the loss of “ladder line” is not known" in text_of(
        client_of(line.owner).get(sweep.get_absolute_url())
    )


def test_a_sweep_at_the_feedpoint_also_shows_what_the_radio_sees(client_of):
    line = making.a_feedline(line_type="RG-58", length_m=15)
    sweep = making.a_sweep(making.an_arrangement(making.an_antenna(line.owner), feedline=line))
    said = text_of(client_of(line.owner).get(sweep.get_absolute_url()))
    assert "At the feedpoint, as measured" in said and "At the radio, computed through Thin coax" in said


def test_the_file_comes_back_byte_for_byte_and_as_touchstone(client_of):
    content = b"freq;R;X\r\n14,0;50;-10\r\n14,1;51;0\r\n14,2;52;\xb111\r\n".replace(b"\xb1", b"")
    sweep = making.a_sweep(content=content, name="Gärten.csv")
    client = client_of(sweep.owner)
    answer = client.get(f"/gear/sweeps/{sweep.pk}/original/")
    assert answer.content == content and "G%C3%A4rten.csv" in answer["Content-Disposition"]
    answer = client.get(f"/gear/sweeps/{sweep.pk}/touchstone/feedpoint/")
    assert sweep_files.read_touchstone(answer.content).gamma == sweep.curve.gamma
    assert answer["Content-Disposition"].endswith('.s1p"')
    assert client.get(f"/gear/sweeps/{sweep.pk}/touchstone/radio/").status_code == 404
    alone = making.a_sweep(sweep.arrangement, b"f,swr\n14.0,1.5\n14.1,1.2\n", name="x.csv")
    assert client.get(f"/gear/sweeps/{alone.pk}/touchstone/feedpoint/").status_code == 404


def test_a_sweep_is_corrected_withdrawn_and_brought_back(client_of, arrangement):
    sweep = making.a_sweep(arrangement)
    client = client_of(sweep.owner)
    said = text_of(client.post(f"/gear/sweeps/{sweep.pk}/edit/", typed(place="hill", band="20m"), follow=True))
    assert "hill" in said and Sweep.objects.get().band == "20m" and Sweep.objects.get().revision == 2
    said = text_of(client.post(f"/gear/sweeps/{sweep.pk}/withdraw/", follow=True))
    assert "never swept" in said and "1 withdrawn" in said
    assert client.get(sweep.get_absolute_url()).status_code == 404
    client.post(f"/gear/sweeps/{sweep.pk}/bring-back/")
    assert bytes(Sweep.objects.get().original) == making.a_sweep_file()


def test_the_page_of_an_arrangement_shows_the_newest_and_lists_all(client_of, arrangement):
    making.a_sweep(arrangement, at="2026-03-01 10:00", place="old field")
    making.a_sweep(arrangement, making.a_sweep_file(6.5, 7.7, resonance_mhz=7.1), at="2026-05-01 10:00")
    said = text_of(client_of(arrangement.owner).get(arrangement.get_absolute_url()))
    assert "All 2 sweeps" in said and "7.100 MHz, 42.0 Ω" in said and "old field" in said
    assert "never swept" not in said


def test_the_page_of_an_arrangement_says_what_plans_go_by_for_each_band(client_of, arrangement):
    making.a_sweep(arrangement, band="20m")
    said = text_of(client_of(arrangement.owner).get(arrangement.get_absolute_url()))
    assert "20m resonates, measured SWR 1.19 at 14.15 MHz" in said
    assert "40m not known never swept, and no element length is noted" in said


def test_a_sweep_has_its_history_and_can_be_kept_as_a_note(client_of, arrangement):
    sweep = making.a_sweep(arrangement, place="meadow")
    client = client_of(arrangement.owner)
    client.post(f"/gear/sweeps/{sweep.pk}/edit/", typed(place="hill"))
    page = client.get(sweep.get_absolute_url())
    assert "place: meadow → hill" in text_of(page)
    address = html.unescape(re.search(r'href="(/notes/new/\?[^"]+)"', page.content.decode())[1])
    note = client.get(address).content.decode()
    assert "- 20m: lowest SWR 1.19 at 14.15\u00a0MHz, 2 or less: all of it" in html.unescape(note)
    ticked = [tag for tag in re.findall(r"<(?:input|option)[^>]*>", note) if f'value="{arrangement.pk}"' in tag]
    assert any("checked" in tag or "selected" in tag for tag in ticked)


def test_sweeps_lie_over_each_other_as_the_address_says(client_of, arrangement):
    first = making.a_sweep(arrangement)
    second = making.a_sweep(arrangement, making.a_sweep_file(ohm=80), at="2026-06-01 10:00")
    client = client_of(arrangement.owner)
    answer = client.get(f"/gear/sweeps/?sweep={first.pk}&sweep={second.pk}&band=20m&at=radio")
    said = text_of(answer)
    assert "2 chosen" in said and "1.19 at 14.15 MHz" in said and "1.60 at 14.15 MHz" in said
    assert answer.content.decode().count(" checked") == 2
    assert "Choose sweeps" in text_of(client.get("/gear/sweeps/?sweep=x&sweep=999999999&band=7&at=moon"))


def test_more_sweeps_than_colours_are_said_to_be_left_out(client_of, arrangement):
    rows = [making.a_sweep(arrangement) for _ in range(9)]
    query = "&".join(f"sweep={row.pk}" for row in rows)
    assert "2 more were chosen" in text_of(client_of(arrangement.owner).get(f"/gear/sweeps/?{query}"))


@pytest.mark.parametrize("count", [2, 6])
def test_comparing_takes_the_same_queries_however_many(arrangement, count, django_assert_num_queries):
    rows = [making.a_sweep(arrangement) for _ in range(count)]
    with django_assert_num_queries(2):
        assert len(queries.compared(arrangement.owner, [row.pk for row in rows], "radio").rows) == count


def test_the_page_of_an_arrangement_takes_the_same_queries_however_many(client_of, arrangement):
    client, taken = client_of(arrangement.owner), []
    for more in (2, 6):
        for _ in range(more):
            making.a_sweep(arrangement)
        client.get(arrangement.get_absolute_url())
        with CaptureQueriesContext(connection) as seen:
            client.get(arrangement.get_absolute_url())
        taken.append(len(seen))
    assert taken[0] == taken[1] < 30


def test_nobody_reaches_the_sweeps_of_another(client_of, arrangement):
    sweep = making.a_sweep(arrangement)
    stranger, visitor = client_of(making.an_operator("Q2DEF")), Client()
    for path in ("", "edit/", "withdraw/", "bring-back/", "original/", "touchstone/feedpoint/"):
        for method in ("get", "post"):
            assert getattr(stranger, method)(f"/gear/sweeps/{sweep.pk}/{path}").status_code in (404, 405)
            assert getattr(visitor, method)(f"/gear/sweeps/{sweep.pk}/{path}").status_code == 302
    assert stranger.post(address(arrangement), held(making.a_sweep_file())).status_code == 404
    assert str(arrangement) not in text_of(stranger.get(f"/gear/sweeps/?sweep={sweep.pk}"))
    assert Sweep.objects.count() == 1
