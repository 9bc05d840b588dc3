"""The form of a question of the bench: read from the address, so that an answer can be sent as a link."""

import copy
from urllib.parse import urlencode

from django import forms

from equipment import typed_quantities as typed
from equipment.forms.quantities import QuantityField
from equipment.models import Arrangement, Pack, Radio
from equipment.numerals import localised
from equipment.queries.bench.answers import Ground
from equipment.units import IMPERIAL, METRIC

TIES = {Pack: "packs", Radio: "radios", Arrangement: "arrangements"}  # what a note can be tied to, and its name there


class GearChoice(forms.ModelChoiceField):
    """A piece of the operator's own gear; what is known of it fills the fields that were left empty.

    `fills` maps the name of a field to a function of the piece that gives a GearValue, or None where nothing is known.
    """

    def __init__(self, model, *, fills=None, **kwargs):
        kwargs = {"required": False, "empty_label": "none", **kwargs}
        super().__init__(model.objects.none(), **kwargs)
        self.fills = fills or {}

    def offer(self, operator, given):
        """Offer what is in use, and what an address names although it is retired."""
        rows = self.queryset.model.objects.of(operator)
        named = rows.filter(pk=given) if given.isascii() and given.isdigit() and len(given) < 10 else rows.none()
        self.queryset = rows.in_use() | named

    def to_python(self, value):
        try:
            return super().to_python(value)
        except OverflowError as error:
            raise forms.ValidationError(self.error_messages["invalid_choice"], code="invalid_choice") from error


class QuestionForm(forms.Form):
    """The inputs of one question. A field that is required is not an error while it is empty: it is `missing`.

    `groups` names the fieldsets: ((title, (field, …)), …); without it all fields stand together.
    """

    groups = ()
    use_required_attribute = False
    typed_in = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, asked, *, operator):
        super().__init__(asked.copy())
        given = asked.get("typed_in")
        self.units = given if given in (METRIC, IMPERIAL) else operator.units
        for name, field in list(self.fields.items()):
            if isinstance(field, QuantityField):
                field.use(self.units)
                field.initial = field.initial and localised(field.initial)
            if isinstance(field, forms.MultipleChoiceField):
                self.begin_with_ticks(name, field, asked)
            elif name not in asked and field.initial is not None:
                self.data[name] = field.initial
            if isinstance(field, GearChoice):
                field.offer(operator, asked.get(name, ""))
                if not field.queryset.exists():
                    del self.fields[name]
        self.data["typed_in"] = self.units
        self.missing, self.filled = [], {}

    def begin_with_ticks(self, name, field, asked):
        """Tick what a page begins with; once it was answered, no tick means none."""
        if name not in asked and "typed_in" not in asked and field.initial:
            self.data.setlist(name, field.initial)

    def clean(self):
        cleaned = super().clean()
        absent = [name for name, found in self._errors.items() if found.as_data()[0].code == "required"]
        for name in absent:
            del self._errors[name]
        for name, field in self.fields.items():
            if isinstance(field, GearChoice) and cleaned.get(name):
                self.fill(cleaned, name, field.fills)
        self.missing = [name for name in absent if cleaned.get(name) is None]
        return cleaned

    def fill(self, cleaned, chooser, fills):
        """Take from a piece of gear what was left empty."""
        for name, value_of in fills.items():
            if cleaned.get(name) in (None, "") and name not in self._errors:
                found = value_of(cleaned[chooser])
                if found is not None:
                    cleaned[name] = found.value
                    self.filled[name] = found

    @property
    def is_ready(self):
        """Whether there is all that an answer needs."""
        return self.is_valid() and not self.missing

    @property
    def values(self):
        """The values by their names, None for what is not known; gear as the rows chosen."""
        asked = {name: self.cleaned_data.get(name) for name in self.base_fields if name != "typed_in"}
        return asked

    @property
    def grounds(self):
        """What was taken from the gear, with links to it."""
        return tuple(
            Ground(f"{self.words(name)}: {found.text}", found.href) for name, found in self.filled.items()
        )

    def words(self, name):
        """What a field is called, without its unit."""
        field = self.fields[name]
        return getattr(field, "words", None) or self[name].label

    @property
    def missing_words(self):
        """What is still needed: (words, id of the field)."""
        return [(self.words(name), self[name].id_for_label) for name in self.missing]

    @property
    def complaints(self):
        """What cannot be read or does not fit: (words, id of the field, reason)."""
        found = [("", "", text) for text in self.non_field_errors()]
        for name, texts in self.errors.items():
            if name in self.fields:
                found += [(self.words(name), self[name].id_for_label, text) for text in texts]
        return found

    @property
    def fieldsets(self):
        """The fields to show: (title, fields), with what was typed but without complaints, which the answer carries.

        The complaints would go stale beside the fields, since only the answer is exchanged while someone types.
        """
        plain = copy.copy(self)
        plain.is_bound, plain._errors, plain._bound_fields_cache = False, None, {}
        plain.initial = {
            name: field.widget.value_from_datadict(self.data, {}, name) for name, field in self.fields.items()
        }
        groups = self.groups or (("", tuple(name for name in self.fields if name != "typed_in")),)
        return [(title, [plain[name] for name in names if name in self.fields]) for title, names in groups]

    def address(self, path, filled=False):
        """The address of this answer: what was typed, and on wish what the gear filled in."""
        query = []
        for name, field in self.fields.items():
            values = self.data.getlist(name)
            query += [(name, value) for value in values if value not in ("", field.initial)]
            if filled and name in self.filled:
                value = self.filled[name].value
                is_quantity = isinstance(field, QuantityField)
                query.append((name, typed.write(value, field.quantity, self.units) if is_quantity else value))
        lengths = {name for name, field in self.fields.items() if getattr(field, "quantity", None) is typed.LENGTH}
        if not lengths & {name for name, _ in query}:
            query = [(name, value) for name, value in query if name != "typed_in"]
        return f"{path}?{urlencode(query)}" if query else path

    @property
    def note_ties(self):
        """The gear that a note about the answer is tied to, as the form of notes takes it: [(relation, pk)]."""
        chosen = [self.cleaned_data.get(n) for n, f in self.fields.items() if isinstance(f, GearChoice)]
        chosen = [getattr(piece, "radio", piece) for piece in chosen]  # a power setting is a part of its radio
        return [(TIES[type(piece)], piece.pk) for piece in chosen if type(piece) in TIES]
