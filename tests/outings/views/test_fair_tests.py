"""The page of fair tests: planned, run from the laptop, read."""

import datetime

import pytest
from django.test import Client
from django.urls import reverse

from outings.models import Stint, SwitchingPlan
from tests.making import a_contact, a_fair_test, a_stint, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def outing():
    return an_outing()


@pytest.fixture
def client(outing, client_of):
    return client_of(outing.owner)


def page(client, outing):
    return client.get(reverse("outings:fair_test", args=[outing.pk])).content.decode()


def typed(outing, **changes):
    antenna = an_antenna(outing.owner)
    chosen = [an_arrangement(antenna, name).pk for name in ("upright", "sloping")]
    return {
        "arrangements": chosen, "minutes": "120", "block_min": "10", "change_min": "2", "order": "random", "seed": "7",
        **changes,
    }


def test_the_page_says_beforehand_what_a_test_could_show(outing, client):
    answer = client.post(reverse("outings:fair_test", args=[outing.pk]), {**typed(outing), "show": "1"})
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "This will not show a difference of 20" in text
    assert "assumed: the log has no hour on the air yet" in text
    assert "Make this test" in text
    assert not SwitchingPlan.everything.exists()


def test_it_reckons_with_the_operators_own_rate(outing, client):
    arrangement = an_arrangement(an_antenna(outing.owner, "Loop"))
    for number in range(3):
        stint = a_stint(an_outing(outing.owner, site=outing.site), minutes=60, arrangement=arrangement)
        for minute in range(10 + number):
            a_contact(stint=stint, call=f"Q{minute}XYZ", at=f"2026-05-01 13:{minute:02}")
    text = client.post(reverse("outings:fair_test", args=[outing.pk]), {**typed(outing), "show": "1"}).content.decode()
    assert "Reckoned with 11 contacts per hour (raw, of the whole log" in text
    assert "assumed" not in text


def test_a_test_is_made_and_stands_on_the_page(outing, client):
    answer = client.post(reverse("outings:fair_test", args=[outing.pk]), {**typed(outing), "make": "1"})
    assert answer.status_code == 302
    plan = SwitchingPlan.objects.get()
    assert (plan.blocks.count(), plan.seed, plan.owner) == (10, 7, outing.owner)
    text = page(client, outing)
    assert "Ready to begin with block 1 of 10" in text


@pytest.mark.parametrize(("changes", "words"), [
    ({"minutes": "15"}, "Not even one round fits"), ({"block_min": "x"}, "Enter a number"),
    ({"arrangements": []}, "required"), ({"seed": "-1"}, "greater than or equal to 0"),
    ({"order": "else"}, "valid choice"), ({"minutes": "0"}, "minutes"),
])
def test_what_cannot_be_planned_is_refused_in_words(outing, client, changes, words):
    answer = client.post(reverse("outings:fair_test", args=[outing.pk]), {**typed(outing), **changes, "make": "1"})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not SwitchingPlan.everything.exists()


def test_arrangements_of_another_operator_cannot_be_chosen(outing, client):
    other = an_arrangement(an_antenna(an_operator("Q2DEF")))
    sent = typed(outing)
    answer = client.post(reverse("outings:fair_test", args=[outing.pk]),
                         {**sent, "arrangements": [sent["arrangements"][0], other.pk], "make": "1"})
    assert answer.status_code == 422


def step(client, plan, **sent):
    return client.post(reverse("outings:fair_test_step", args=[plan.outing_id, plan.pk]), sent)


def test_blocks_go_on_and_off_the_air_and_set_up_is_counted_apart(outing, client):
    plan = a_fair_test(outing)
    first, second = plan.blocks.all()[:2]
    a_stint(outing, minutes=None)
    assert step(client, plan, step="begin", block=first.uuid, at="-30").status_code == 302
    stint = Stint.objects.get(block=first)
    assert stint.arrangement == first.arrangement
    assert "switch now" in page(client, outing)
    assert step(client, plan, step="off", at="-19").status_code == 302
    assert "noted as set-up" in page(client, outing)
    assert step(client, plan, step="begin", at="-17").status_code == 302
    later = Stint.objects.get(block=second)
    assert later.setup_min == pytest.approx(2, abs=0.1)
    assert step(client, plan, step="end").status_code == 302
    plan.refresh_from_db()
    assert plan.ended_at is not None
    assert "closed" in page(client, outing)


def test_the_log_page_runs_it_as_well(outing, client):
    plan = a_fair_test(outing)
    a_stint(outing, minutes=None)
    log = reverse("outings:log", args=[outing.pk])
    assert "Ready to begin with block 1 of 4" in client.get(log).content.decode()
    answer = step(client, plan, step="begin", back="log", at="-1")
    assert answer.headers["Location"] == log
    assert "Block 1 of 4" in client.get(log).content.decode()


def test_a_step_that_cannot_be_says_why(outing, client):
    plan = a_fair_test(outing)
    answer = step(client, plan, step="begin")
    assert answer.status_code == 422
    assert "Go on the air once first" in answer.content.decode()
    assert step(client, plan, step="jump").status_code == 422
    assert not Stint.objects.exists()


def test_what_was_done_is_judged_as_pairs(outing, client):
    plan = a_fair_test(outing, minutes=200)
    at = datetime.datetime(2026, 5, 1, 13, 0, tzinfo=datetime.UTC)
    a_stint(outing, start="2026-05-01 12:30", minutes=30)
    for block in plan.blocks.all():
        stint = plan.begin(plan.owner, block, at)
        for number in range(8 if block.arrangement.name == "upright" else 2):
            when = at + datetime.timedelta(minutes=number)
            a_contact(stint=stint, call=f"Q{block.number}{chr(65 + number)}A", at=f"{when:%Y-%m-%d %H:%M}")
        at += datetime.timedelta(minutes=10)
        stint.stop(plan.owner, at)
        at += datetime.timedelta(minutes=2)
    text = page(client, outing)
    assert "makes only" in text or "times the contacts per hour" in text
    assert "pair of the switching plan" in text
    assert "All blocks had their turn" in text and "until the next block" not in text


def test_deleting_asks_and_keeps_the_stints(outing, client):
    plan = a_fair_test(outing)
    a_stint(outing, minutes=None)
    step(client, plan, step="begin", at="-1")
    address = reverse("outings:fair_test_delete", args=[outing.pk, plan.pk])
    assert "Delete this fair test" in client.get(address).content.decode()
    assert client.post(address).status_code == 302
    assert not SwitchingPlan.objects.exists()
    assert Stint.objects.filter(block__isnull=False).exists()


def test_visitors_and_others_change_nothing(outing, client_of):
    plan = a_fair_test(outing)
    a_stint(outing, minutes=None)
    for name, arguments in (("fair_test", [outing.pk]), ("fair_test_step", [outing.pk, plan.pk])):
        address = reverse(f"outings:{name}", args=arguments)
        assert Client().post(address, {"step": "begin"}).status_code == 302
        assert client_of(an_operator("Q2DEF") if name == "fair_test" else an_operator("Q3GHI")).post(
            address, {"step": "begin"}
        ).status_code == 404
    assert not Stint.objects.filter(block__isnull=False).exists()
