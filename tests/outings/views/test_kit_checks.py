"""The check of a kit on plan, checklist and paper."""

import io

import pypdf
import pytest
from django.urls import reverse

from tests import making

pytestmark = pytest.mark.django_db


@pytest.fixture
def outing():
    owner = making.an_operator()
    radio = making.a_radio(owner, "Box", receive_a=0.2, modes=["SSB"])
    making.a_power_setting(radio, "full", 10.0, transmit_a=2.0)
    line = making.a_feedline(owner, line_type="RG-58", length_m=15.0)
    arrangement = making.an_arrangement(making.an_antenna(owner), "flat", feedline=line, bands=("20m",))
    making.a_sweep(arrangement)
    kit = making.a_kit(owner, items=[radio, line, making.a_pack(owner)], arrangements=[arrangement])
    return making.an_outing(owner, kit=kit, bands=["20m", "15m"])


def texts(client, outing):
    """Plan, checklist and paper as plain texts."""
    names = ("plan", "checklist")
    pages = [client.get(reverse(f"outings:{name}", args=[outing.pk])).content.decode() for name in names]
    paper = client.get(reverse("outings:checklist_paper", args=[outing.pk]))
    pages.append(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(paper.content)).pages))
    return [" ".join(page.replace("\xa0", " ").split()) for page in pages]


def test_sentence_power_weakest_link_and_what_is_missing_stand_everywhere(client_of, outing):
    for text in texts(client_of(outing.owner), outing):
        assert "Kit check" in text
        assert "It resonates on 20m; it lasts" in text
        assert "Weakest link: nothing in it resonates on 15m." in text
        assert "an antenna for 15m" in text
        assert "10.0 W, full of Box" in text


def test_without_a_kit_there_is_no_check(client_of, outing):
    outing.kit = None
    outing.keep(outing.owner)
    for text in texts(client_of(outing.owner), outing):
        assert "Kit check" not in text


def test_an_outing_longer_than_the_pack_lasts_is_not_ready(client_of, outing):
    pack = outing.kit.lines.get(item__kind="pack").item.pack
    pack.rated_ah = 0.3
    pack.save()
    outing.bands = ["20m"]
    outing.keep(outing.owner)
    for text in texts(client_of(outing.owner), outing):
        assert "too short for the window" in text
        assert "not ready" in text.lower()
