"""People nearby on plan, checklist and paper: distances, refusals, and what the operator must do."""

import io

import pypdf
import pytest
from django.urls import reverse

from outings.queries.people import outing_reach
from tests import making

pytestmark = pytest.mark.django_db


@pytest.fixture
def outing():
    owner = making.an_operator()
    radio = making.a_radio(owner, "Box")
    making.a_power_setting(radio, "high", 100.0)
    arrangement = making.an_arrangement(making.an_antenna(owner), "whip", element_length_m=2.5, bands=("40m", "10m"))
    kit = making.a_kit(owner, items=[radio], arrangements=[arrangement])
    return making.an_outing(owner, kit=kit, bands=["40m", "10m"])


def texts(client, outing):
    """Plan, checklist and paper as plain texts."""
    names = ("plan", "checklist")
    pages = [client.get(reverse(f"outings:{name}", args=[outing.pk])).content.decode() for name in names]
    paper = client.get(reverse("outings:checklist_paper", args=[outing.pk]))
    pages.append(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(paper.content)).pages))
    return [" ".join(page.replace("\xa0", " ").split()) for page in pages]


def test_the_distances_stand_on_the_plan_the_checklist_and_the_paper(client_of, outing):
    """λ/2π at 7.0 MHz is 6.82 m; the far-field formula with 100 W, 2.2 dBi, factor 2.56 gives 4.0 m at 29.7 MHz."""
    for text in texts(client_of(outing.owner), outing):
        assert "People nearby" in text
        assert "6.9 m" in text and "4.1 m" in text
        assert "refused" in text
        assert "Reckoned with 100 W, the highest setting of Box" in text
        assert "47 CFR 1.1310" in text and "97-01" in text
        assert "It is not a compliance evaluation." in text
        assert "the operator must do the evaluation that the regulator of the place requires" in text
        assert "safe distance" not in text


def test_feet_are_printed_for_those_who_use_them(client_of, outing):
    outing.owner.units = "imperial"
    outing.owner.save()
    for text in texts(client_of(outing.owner), outing):
        assert "22.5 ft" in text


def test_a_kit_whose_power_is_not_known_says_why_nothing_is_reckoned(client_of, outing):
    outing.kit.lines.all().delete()
    for text in texts(client_of(outing.owner), outing):
        assert "Not reckoned: no radio of the kit has a power setting." in text


def test_without_a_kit_nothing_is_said(client_of, outing):
    outing.kit = None
    outing.keep(outing.owner)
    assert outing_reach(outing) is None
    for text in texts(client_of(outing.owner), outing):
        assert "keep them beyond" not in text and 'id="people"' not in text


def test_the_plan_leads_to_the_same_question_on_the_bench(client_of, outing):
    client = client_of(outing.owner)
    text = client.get(reverse("outings:plan", args=[outing.pk])).content.decode()
    assert "/bench/people/?watts=100&amp;bands=40m&amp;bands=10m" in text
    assert client.get("/bench/people/?watts=100&bands=40m&bands=10m").context["answers"]


def test_it_takes_two_queries(outing, django_assert_num_queries):
    with django_assert_num_queries(2):
        outing_reach(outing)
