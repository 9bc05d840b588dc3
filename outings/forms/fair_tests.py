"""Forms of fair tests: planning one, and what happens while it runs."""

import random

from django import forms

from equipment.models import Arrangement
from equipment.numerals import Numeral
from outings.evidence import switching
from outings.models import StintError, SwitchingPlan
from outings.queries import fair_tests

from .stints import MomentField, RatioField


class PlanForm(forms.ModelForm):
    """A fair test: which arrangements, how long, in which order. `planned` and `outlook` say what would come of it."""

    arrangements = forms.ModelMultipleChoiceField(
        Arrangement.objects.none(), widget=forms.CheckboxSelectMultiple({"class": "down scroll"}),
        help_text="Two or more. What is compared is how they are put up, not how they are used.",
    )
    minutes = RatioField(label="Minutes at hand", min_value=1, max_value=1440)
    block_min = RatioField(
        label="Minutes of a block", min_value=1, max_value=240, help_text="On the air with one; 5 to 15 are usual."
    )
    change_min = RatioField(
        label="Minutes to switch", min_value=0, max_value=120, help_text="0 where a switch does it, else taking one "
        "down and putting the other up. They are not time on the air.",
    )
    seed = forms.IntegerField(
        min_value=0, max_value=2**31 - 1, help_text="Draws the order; the same number gives the same order again."
    )

    class Meta:
        model = SwitchingPlan
        fields = ("arrangements", "minutes", "block_min", "change_min", "order", "seed")
        labels = {"order": "Order"}

    def __init__(self, *args, outing, gear, **options):
        options["initial"] = {
            "seed": random.SystemRandom().randrange(10_000), "minutes": 120, "block_min": 10, "change_min": 2,
        } | options.get("initial", {})
        super().__init__(*args, **options)
        self.outing, self.planned, self.outlook, self.prospect = outing, (), None, None
        first, others = gear.arrangements
        field = self.fields["arrangements"]
        field.queryset = Arrangement.objects.of(outing.owner_id).in_use().select_related("antenna")
        field.label_from_instance = lambda row: f"{row.antenna}: {row}"
        field.choices = [(row.pk, field.label_from_instance(row)) for row in (*first, *others)]

    def clean_arrangements(self):
        chosen = self.cleaned_data["arrangements"]
        if len(chosen) < 2:
            raise forms.ValidationError("A fair test needs at least two arrangements.")
        return chosen

    def clean(self):
        wanted = super().clean()
        if self.errors:
            return wanted
        chosen = list(wanted["arrangements"])
        names = {str(row.pk): f"{row.antenna}: {row}" for row in chosen}
        try:
            self.planned = switching.plan(
                names, wanted["minutes"], wanted["block_min"], seed=wanted["seed"], order=wanted["order"],
                change_min=wanted["change_min"],
            )
        except ValueError:
            least = len(chosen) * wanted["block_min"] + (len(chosen) - 1) * wanted["change_min"]
            self.add_error("minutes", f"Not even one round fits: {len(chosen)} blocks and the switching between them "
                                      f"take {Numeral(least):g} minutes.")
            return wanted
        self.prospect = fair_tests.prospect(self.outing.owner, chosen)
        self.outlook = fair_tests.outlook(self.planned, self.prospect)
        self.named = names
        return wanted

    @property
    def needed_h(self):
        """Hours on the air, of all together, that each ratio needs to show."""
        return [(ratio, minutes / 60) for ratio, minutes in self.outlook.needed]

    @property
    def hours_for_a_fifth(self):
        return dict(self.needed_h)[switching.RATIOS[0]]

    def blocks(self):
        """The planned blocks with their names."""
        return [(block, self.named[block.arrangement]) for block in self.planned]

    def save(self, actor):
        """Keep the plan with its blocks; another that goes on at this outing ends."""
        plan = super().save(commit=False)
        plan.owner, plan.outing = self.outing.owner, self.outing
        plan.make(actor, list(self.cleaned_data["arrangements"]))
        return plan


class StepForm(forms.Form):
    """What happens next in a running test: a block goes on the air, or off it, or the test ends."""

    step = forms.ChoiceField(choices=[(word, word) for word in ("begin", "off", "end")], widget=forms.HiddenInput)
    block = forms.UUIDField(required=False)
    identity = forms.UUIDField(required=False, widget=forms.HiddenInput)
    at = MomentField(label="When")

    def __init__(self, *args, test, now, **options):
        super().__init__(*args, **options)
        self.test = test
        self.fields["at"].now = now

    def apply(self, actor):
        """Do it; a refusal becomes an error of the form. Returns what to say, "" if it was refused."""
        if not self.is_valid():
            return ""
        step, at, plan = self.cleaned_data["step"], self.cleaned_data["at"], self.test.plan
        try:
            if step == "begin":
                block = self.wanted_block()
                if block is None:
                    return ""
                stint = plan.begin(actor, block, at, identity=self.cleaned_data["identity"])
                return f"On the air: {stint.label}."
            if step == "off":
                for line in self.test.lines:
                    for stint in line.stints:
                        if stint.running:
                            stint.stop(actor, at)
                            return "Off the air: switching now."
                return "Nothing of this test was on the air."
            plan.end(actor, at)
            return "The fair test is closed; what was done counts."
        except StintError as reason:
            self.add_error("at", str(reason))
            return ""

    def wanted_block(self):
        """The block that was asked for, else the next one; None with an error where there is none."""
        wanted = self.cleaned_data["block"]
        block = next((one for one in self.test.later if one.uuid == wanted), None) if wanted else self.test.coming
        if block is None:
            self.add_error("block", "That block is over or was passed; choose one that is still to come.")
        return block
