"""Forms of checklists: one line, making the list again, and the standing lines."""

import uuid

from django import forms
from django.db import transaction

from outings.models import ChecklistLine, StandingLine
from outings.queries.checklists import differences

from .fields import WholeField

Section = StandingLine.Section

STARTERS = (
    (Section.BEFORE, "Access, opening hours and permission checked"),
    (Section.BEFORE, "Weather, wind and lightning forecast read"),
    (Section.BEFORE, "Packs charged and their voltages noted"),
    (Section.BEFORE, "Somebody knows where I go and when I am back"),
    (Section.BEFORE, "Outing announced, if others wait for it"),
    (Section.PACK, "Licence, or a copy of it"),
    (Section.PACK, "Water, food, sun or rain protection, warm layer"),
    (Section.PACK, "First-aid kit"),
    (Section.PACK, "Phone, charged, with its cable"),
    (Section.PACK, "Head torch with red light"),
    (Section.PACK, "Paper log sheet, two pencils, a watch on UTC"),
    (Section.PACK, "Spare fuses, adapters, patch cable, tape"),
    (Section.ARRIVAL, "Looked up: no power line within reach of anything that goes up or may fall"),
    (Section.ARRIVAL, "Guys, radials and wires marked; nobody can touch the antenna"),
    (Section.ARRIVAL, "Position, grid square and reference checked on the spot"),
    (Section.ARRIVAL, "Clock compared with UTC"),
    (Section.ARRIVAL, "SWR checked at low power"),
    (Section.LEAVING, "Packs disconnected, terminals covered"),
    (Section.LEAVING, "Wires, radials, stakes and guys counted back in"),
    (Section.LEAVING, "Nothing left behind, ground as it was"),
    (Section.LEAVING, "Log complete: last contact, end time, packs' voltages"),
)


class LineForm(forms.ModelForm):
    """One line of a checklist."""

    quantity = WholeField(min_value=1, max_value=999, initial=1)

    class Meta:
        model = ChecklistLine
        fields = ["text", "section", "quantity"]

    def save_for(self, actor):
        """Keep the line with a trace; in a section that is new to it, it goes to the end."""
        line = self.instance
        if line.pk is None or "section" in self.changed_data:
            last = ChecklistLine.objects.filter(outing=line.outing, section=line.section).order_by("-position").first()
            line.position = min(last.position + 1, 32_767) if last else 0
        line.keep(actor, cause="checklist")
        return line


class RemakeForm(forms.Form):
    """Brings a checklist up to date with kit and standing lines: edits and ticks stay, what is doubtful is asked."""

    take_off = forms.MultipleChoiceField(
        label="Take off: no longer in the kit", required=False, widget=forms.CheckboxSelectMultiple
    )
    recount = forms.MultipleChoiceField(
        label="Take over the kit’s number", required=False, widget=forms.CheckboxSelectMultiple
    )
    put_back = forms.MultipleChoiceField(
        label="Put back: taken off by hand before", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args, outing, **kwargs):
        super().__init__(*args, **kwargs)
        self.outing = outing
        self.found = differences(outing)
        choices = {
            "take_off": [(str(line.pk), line.text) for line in self.found.gone],
            "recount": [
                (str(line.pk), f"{line.text}: {line.quantity} on the list, {quantity} in the kit")
                for line, quantity in self.found.counts
            ],
            "put_back": [("-".join(map(str, line.key)), line.text) for line in self.found.taken_off],
        }
        for name, found in choices.items():
            if found:
                self.fields[name].choices = found
            else:
                del self.fields[name]
        if "recount" in self.fields:
            self.fields["recount"].initial = [value for value, _ in choices["recount"]]

    def save(self, actor):
        """Carry it out, in one batch of the history; returns how many lines were added, changed or taken off."""
        chosen, batch = self.cleaned_data, uuid.uuid4()
        put_back = set(chosen.get("put_back", ()))
        added = [*self.found.missing]
        added += [line for line in self.found.taken_off if "-".join(map(str, line.key)) in put_back]
        changed = []
        for line, quantity in self.found.counts:
            if str(line.pk) in chosen.get("recount", ()):
                line.quantity = quantity
                changed.append(line)
        gone = [line for line in self.found.gone if str(line.pk) in chosen.get("take_off", ())]
        with transaction.atomic():
            ChecklistLine.keep_all(self._new_lines(added), actor, cause="checklist", batch=batch)
            ChecklistLine.keep_all(changed, actor, cause="checklist", batch=batch)
            for line in gone:
                line.withdraw(actor, cause="checklist", batch=batch)
        return len(added) + len(changed) + len(gone)

    def _new_lines(self, added):
        last = {}
        for section, position in ChecklistLine.objects.filter(outing=self.outing).values_list("section", "position"):
            last[section] = max(last.get(section, -1), position)
        lines = []
        for wanted in added:
            last[wanted.section] = min(last.get(wanted.section, -1) + 1, 32_767)
            lines.append(ChecklistLine(
                owner_id=self.outing.owner_id, outing=self.outing, text=wanted.text, section=wanted.section,
                quantity=wanted.quantity, item_id=wanted.item_id, standing_id=wanted.standing_id,
                position=last[wanted.section],
            ))
        return lines


class StandingLineForm(forms.ModelForm):
    """One standing line; `place` orders the lines of a section."""

    position = WholeField(label="Place", required=False, min_value=0, max_value=999)

    class Meta:
        model = StandingLine
        fields = ["text", "section", "position"]

    def clean_position(self):
        return self.cleaned_data["position"] or 0


class BaseStandingFormSet(forms.BaseModelFormSet):
    """All standing lines of an operator, with blank rows for more."""

    def __init__(self, *args, operator, **kwargs):
        self.operator = operator
        super().__init__(*args, queryset=StandingLine.objects.of(operator).in_order(), **kwargs)

    def _construct_form(self, i, **kwargs):
        form = super()._construct_form(i, **kwargs)
        form.instance.owner = self.operator
        return form


StandingFormSet = forms.modelformset_factory(
    StandingLine, form=StandingLineForm, formset=BaseStandingFormSet, extra=4, can_delete=True, max_num=300
)


def add_starters(operator):
    """Give an operator without standing lines the ones to begin with; says whether it did."""
    with transaction.atomic():
        if StandingLine.objects.of(operator).exists():
            return False
        StandingLine.objects.bulk_create(
            StandingLine(owner=operator, section=section, text=text, position=number)
            for number, (section, text) in enumerate(STARTERS, 1)
        )
    return True
