"""Whether a kit lasts through an outing's window, and what past outings used for an hour on the air."""

import pytest
from scipy.stats import t

from equipment.models import PackLog
from outings.queries.energy import learned_use, outing_energy, use_since_full
from tests import making

pytestmark = pytest.mark.django_db


def a_full_charge(pack, day, ah):
    row = PackLog(
        owner=pack.owner, pack=pack, kind="charge", started_at=making.a_moment(f"2026-05-{day:02d} 20:00"),
        duration_s=3600, ah=ah, wh=13 * ah, end_v=14.4, end_a=0.1, is_complete=True, readings=100, file_name="c.csv",
    )
    row.file = b"time,V,A\n"
    row.keep(pack.owner)
    return row


def outings_on(pack, *uses):
    """A full charge, then outings with so many hours on the air, each followed by a full charge of so many Ah."""
    site = making.a_site(pack.owner)
    a_full_charge(pack, 1, 3.0)
    for day, (hours, ah) in enumerate(uses, 2):
        outing = making.an_outing(pack.owner, site=site, start=f"2026-05-{day:02d} 10:00")
        making.a_stint(outing, start=f"2026-05-{day:02d} 10:00", minutes=60 * hours, pack=pack)
        a_full_charge(pack, day, ah)


def test_the_charge_after_an_outing_tells_its_use(django_assert_max_num_queries):
    pack = making.a_pack()
    outings_on(pack, (2, 1.0), (1, 0.6), (3, 1.4))
    with django_assert_max_num_queries(2):
        found = learned_use(pack.owner, [pack.pk])
    assert (found.charges, found.on_air_h) == (3, 6.0)
    assert found.middle_a == pytest.approx(3.0 / 6)
    rates = (0.5, 0.6, 1.4 / 3)
    mean = sum(rates) / 3
    spread = (sum((rate - mean) ** 2 for rate in rates) / 2) ** 0.5
    assert found.high_a == pytest.approx(0.5 + t.ppf(0.95, 2) * spread * (4 / 3) ** 0.5)  # prediction of one more
    assert len(found.grounds) == 3 and "after 2.0 h on the air" in found.grounds[0].text


def test_charges_without_an_outing_and_broken_off_ones_tell_nothing():
    pack = making.a_pack()
    a_full_charge(pack, 1, 3.0)
    a_full_charge(pack, 2, 0.2)
    assert learned_use(pack.owner, [pack.pk]) is None
    outings_on(making.a_pack(pack.owner, "Second"), (0.1, 0.1))
    assert learned_use(pack.owner, [pack.pk]) is None
    assert learned_use(making.an_operator("Q2DEF"), [pack.pk]) is None


def a_ready_outing(owner, *, hours=3):
    radio = making.a_radio(owner, receive_a=0.19, modes=["CW"])
    making.a_power_setting(radio, "full", 10.0, transmit_a=2.1)
    pack = making.a_pack(owner)
    kit = making.a_kit(owner, items=[radio, pack])
    return making.an_outing(owner, start="2026-06-01 10:00", hours=hours, kit=kit), pack


def test_the_plan_the_checklist_and_the_paper_say_whether_it_lasts(client_of):
    owner = making.an_operator()
    outing, pack = a_ready_outing(owner)
    client = client_of(owner)
    for page in (outing.get_absolute_url(), f"{outing.get_absolute_url()}checklist/"):
        text = client.get(page).content.decode()
        assert "Will it last?" in text and "Yes, it lasts" in text and "Morse" in text
        assert f"/bench/lasting/?hours=3&amp;pack={pack.pk}&amp;setting=" in text
    from io import BytesIO

    from pypdf import PdfReader

    paper = client.get(f"{outing.get_absolute_url()}checklist/paper/")
    printed = " ".join("".join(p.extract_text() for p in PdfReader(BytesIO(paper.content)).pages).split())
    assert "Yes, it lasts" in printed and "in the mean" in printed


def test_ones_own_use_is_learned_for_the_plan(django_assert_max_num_queries):
    owner = making.an_operator()
    outing, pack = a_ready_outing(owner)
    outings_on(pack, (2, 1.0), (1, 0.5), (3, 1.5))
    with django_assert_max_num_queries(7):
        found = outing_energy(outing)
    assert "By your own outings" in found.answer.reasons[0]
    assert any("charged full on 2026-05-02" in ground.text for ground in found.answer.computed_from)


def test_the_pack_says_what_left_it_since_it_was_full(client_of, django_assert_max_num_queries):
    pack = making.a_pack()
    outings_on(pack, (2, 1.0), (1, 0.5), (3, 1.5))
    later = making.an_outing(pack.owner, start="2026-05-08 10:00")
    making.a_stint(later, start="2026-05-08 10:00", minutes=60, pack=pack)
    with django_assert_max_num_queries(4):
        found = use_since_full(pack.owner, pack)
    assert (found.logged_ah, found.on_air_h, found.used_ah) == (0.0, 1.0, pytest.approx(0.5))
    page = client_of(pack.owner).get(pack.get_absolute_url()).content.decode()
    assert f"/bench/charge-state/?pack={pack.pk}&amp;used_ah=0.5" in page
    assert use_since_full(pack.owner, making.a_pack(pack.owner, "Never charged")) is None


def test_without_a_kit_or_an_end_there_is_no_answer():
    owner = making.an_operator()
    assert outing_energy(making.an_outing(owner)) is None
    outing, _ = a_ready_outing(owner)
    outing.window_end = None
    assert "no end" in outing_energy(outing).why_not


def test_a_phone_takes_the_answer_along_and_nothing_where_there_is_none(client_of):
    owner = making.an_operator()
    outing, _ = a_ready_outing(owner)
    client = client_of(owner)
    said = client.get(f"/field/outings/{outing.uuid}/").json()["energy"]
    assert said == f"As planned: {outing_energy(outing).answer.sentence}"
    bare = making.an_outing(owner, site=outing.site)
    assert client.get(f"/field/outings/{bare.uuid}/").json()["energy"] == ""
