"""The form of a performance note."""

from django import forms

from equipment.models import Arrangement, Pack, Radio
from outings.models import Note, Outing


class ArrangementChoices(forms.ModelMultipleChoiceField):
    """Arrangements, each with its antenna."""

    def label_from_instance(self, arrangement):
        return f"{arrangement.antenna}: {arrangement}"


class NoteForm(forms.ModelForm):
    """Title, text and what the note is about; a note can be tied to the operator's own things only."""

    arrangements = ArrangementChoices(Arrangement.objects.none(), label="Arrangements", required=False)

    class Meta:
        model = Note
        fields = ["title", "text", "arrangements", "packs", "radios", "outings"]
        labels = {"packs": "Packs", "radios": "Radios", "outings": "Outings"}
        help_texts = {
            "text": "Markdown: **bold**, *italic*, lists with a hyphen, # headings, | tables |, [a link](address).",
        }

    def __init__(self, *args, operator, **options):
        super().__init__(*args, **options)
        self.operator = operator
        tied = {name: self.instance.pk and getattr(self.instance, name).all() for name in Note.TIES.values()}
        choices = {
            "arrangements": Arrangement.objects.of(operator).select_related("antenna"),
            "packs": Pack.objects.of(operator), "radios": Radio.objects.of(operator),
            "outings": Outing.objects.open_to(operator).select_related("site"),
        }
        for name, rows in choices.items():
            field = self.fields[name]
            if name != "outings":  # what is retired stays where a note is tied to it already
                rows = rows.in_use() | rows.filter(pk__in=tied[name]) if tied[name] else rows.in_use()
            field.widget = forms.CheckboxSelectMultiple({"class": "down scroll"})
            field.help_text = ""
            field.queryset = rows
        self.fields["text"].widget.attrs["rows"] = 10
        for name in [name for name in choices if not self.fields[name].queryset.exists()]:
            del self.fields[name]

    @property
    def words(self):
        """What is written."""
        return [self["title"], self["text"]]

    @property
    def ties(self):
        """What it is about."""
        return [self[name] for name in Note.TIES.values() if name in self.fields]

    def save(self):
        note = self.instance
        if not note.pk:
            note.owner = self.operator
        note.keep(self.operator)
        self._save_m2m()
        return note
