"""What is asked before a page is shared: how much of it others see."""

from django import forms

from equipment.numerals import localised
from outings.models import SharedPage

NOTES = {  # what `with_notes` adds, by what is shared; nothing where it is left out
    "outing": ("with my notes", "Your performance notes on the outing, and what was noted on the way."),
    "kit": ("with my notes", "What you wrote about the kit and beside its band settings."),
    "site": ("with permission and notes", "See first that no name or number of somebody else stands in them."),
    "note": None,
}
OF_GEAR = ("with my notes", "Your performance notes on it.")


class ShareForm(forms.ModelForm):
    """Make an address for a page; its kind is that of the thing which the instance shows."""

    class Meta:
        model = SharedPage
        fields = ["position", "with_notes"]
        widgets = {"position": forms.RadioSelect({"class": "down"})}
        labels = {"position": "Where the site is, to"}
        help_texts = {"position": "To four characters, references, county and altitude are left out, too."}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        kind = self.instance.kind
        if kind == "site":
            self.initial["position"] = SharedPage.Position.GRID_4
            self.fields["position"].choices = [(one, localised(words)) for one, words in SharedPage.Position.choices]
        else:
            del self.fields["position"]
        told = NOTES.get(kind, OF_GEAR)
        if told is None:
            del self.fields["with_notes"]
        else:
            self.fields["with_notes"].label, self.fields["with_notes"].help_text = told
