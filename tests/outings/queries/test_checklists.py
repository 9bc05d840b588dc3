"""A checklist and what making it again would change."""

import pytest

from outings.forms.checklists import RemakeForm, add_starters
from outings.models import ChecklistLine, StandingLine
from outings.queries import checklists
from tests.making import a_kit, a_pack, a_radio, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def outing():
    owner = an_operator()
    StandingLine.objects.create(owner=owner, text="Water", section="pack")
    StandingLine.objects.create(owner=owner, text="Looked up", section="arrival")
    kit = a_kit(owner, items=[a_radio(owner, "Radio"), (a_pack(owner, "Pack"), 2)])
    return an_outing(owner, kit=kit)


def remake(outing, **chosen):
    form = RemakeForm(chosen, outing=outing)
    assert form.is_valid(), form.errors
    return form.save(outing.owner)


def texts(outing):
    return [(line.text, line.quantity) for section in checklists.checklist(outing).sections for line in section.lines]


def test_a_checklist_is_made_from_kit_and_standing_lines_by_section(outing):
    assert remake(outing) == 4
    assert texts(outing) == [("Radio", 1), ("Pack", 2), ("Water", 1), ("Looked up", 1)]
    assert not checklists.differences(outing)


def test_making_it_again_adds_nothing_and_keeps_edits_and_ticks(outing):
    remake(outing)
    line = ChecklistLine.objects.get(text="Water")
    line.text = "Water, two litres"
    line.keep(outing.owner)
    line.tick(outing.owner, on=True)
    own = ChecklistLine(owner=outing.owner, outing=outing, text="Tea", section="pack", position=9)
    own.keep(outing.owner)
    assert remake(outing) == 0
    assert texts(outing) == [("Radio", 1), ("Pack", 2), ("Water, two litres", 1), ("Tea", 1), ("Looked up", 1)]
    assert ChecklistLine.objects.get(text="Water, two litres").ticked_at


def test_new_gear_is_added_gear_no_longer_there_is_asked_about_and_a_new_count_is_offered(outing):
    remake(outing)
    kit = outing.kit
    kit.lines.get(item__name="Radio").delete()
    kit.lines.update(quantity=3)
    kit.lines.create(item=a_pack(outing.owner, "Second pack").item_ptr)
    found = checklists.differences(outing)
    assert [line.text for line in found.missing] == ["Second pack"]
    assert [line.text for line in found.gone] == ["Radio"]
    assert [(line.text, quantity) for line, quantity in found.counts] == [("Pack", 3)]
    remake(outing)
    assert ("Radio", 1) in texts(outing)
    gone = ChecklistLine.objects.get(text="Radio")
    counted = ChecklistLine.objects.get(text="Pack")
    assert remake(outing, take_off=[str(gone.pk)], recount=[str(counted.pk)]) == 2
    assert texts(outing) == [("Pack", 3), ("Water", 1), ("Second pack", 1), ("Looked up", 1)]


def test_a_line_taken_off_by_hand_stays_off_until_it_is_put_back(outing):
    remake(outing)
    line = ChecklistLine.objects.get(text="Water")
    line.withdraw(outing.owner)
    assert remake(outing) == 0
    found = checklists.differences(outing)
    assert [wanted.text for wanted in found.taken_off] == ["Water"]
    assert remake(outing, put_back=[f"standing-{line.standing_id}"]) == 1
    assert ("Water", 1) in texts(outing)


def test_a_tick_keeps_its_first_time_and_is_kept_in_the_history(outing):
    remake(outing)
    line = ChecklistLine.objects.get(text="Radio")
    line.tick(outing.owner, on=True)
    first = line.ticked_at
    line.tick(outing.owner, on=True)
    assert line.ticked_at == first
    line.tick(outing.owner, on=False)
    assert line.ticked_at is None
    assert [change.cause for change in line.history()] == ["untick", "tick", "checklist"]


def test_a_choice_that_is_not_offered_is_refused(outing):
    remake(outing)
    outing.kit.lines.get(item__name="Radio").delete()
    form = RemakeForm({"take_off": ["999999"]}, outing=outing)
    assert not form.is_valid()
    assert ChecklistLine.objects.filter(text="Radio").exists()


def test_starters_are_given_once():
    owner = an_operator()
    assert add_starters(owner)
    count = StandingLine.objects.of(owner).count()
    assert count > 10
    assert not add_starters(owner)
    assert StandingLine.objects.of(owner).count() == count


def test_a_checklist_takes_one_query_and_its_differences_five(outing, django_assert_max_num_queries):
    remake(outing)
    with django_assert_max_num_queries(1):
        assert checklists.checklist(outing).total == 4
    with django_assert_max_num_queries(5):
        assert not checklists.differences(outing)
