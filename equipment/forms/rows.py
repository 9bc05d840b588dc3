"""Forms with rows below them (power settings, band settings, lines of a kit), grown row by row without script."""

from django import forms
from django.db import transaction
from django.forms.utils import ErrorDict, ErrorList

from .quantities import MeasuredForm

MORE = 3
MOST = 60


class Unchecked:
    """A form or formset that can be shown as typed so far, without being checked: more rows were asked for."""

    unchecked = False

    def full_clean(self):
        if not self.unchecked:
            super().full_clean()
            return
        if isinstance(self, forms.BaseFormSet):
            self._errors, self._non_form_errors = [], ErrorList()
        else:
            self._errors, self.cleaned_data = ErrorDict(), {}


class RowForm(Unchecked, MeasuredForm):
    """One row; an empty one is left out."""

    typed_in = None  # the form above says in which units all of it was typed


class Rows(Unchecked, forms.BaseInlineFormSet):
    """The rows of a form: `once` names a field in which no value may stand twice."""

    once = None

    def add_fields(self, form, index):
        super().add_fields(form, index)
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = "Remove"

    def clean(self):
        super().clean()
        if not self.once:
            return
        seen = set()
        for form in self.forms:
            value = form.cleaned_data.get(self.once) if hasattr(form, "cleaned_data") else None
            if not value or form.cleaned_data.get("DELETE"):
                continue
            if value in seen:
                form.add_error(self.once, f"{value} stands here twice: keep one of the two.")
            seen.add(value)

    def validate_unique(self):
        """Left to `clean`, whose words say what stands twice."""

    def save(self, commit=True):
        """Save the rows; two that change places are taken out first, since neither may come to stand twice."""
        moved = [form.instance.pk for form in self.initial_forms if self.once in form.changed_data]
        self.model.objects.filter(pk__in=moved).delete()
        return super().save(commit)


class FormWithRows(Unchecked, MeasuredForm):
    """A form that has rows below it and is checked, saved and grown together with them."""

    rows_class = None

    def __init__(self, data=None, *args, **kwargs):
        super().__init__(data, *args, **kwargs)
        self.rows = self.rows_of(data)

    def rows_of(self, data):
        return self.rows_class(data, instance=self.instance, prefix="rows", form_kwargs={"units": self.units})

    @property
    def asks_for_more(self):
        """Whether the button for more rows was pressed rather than the one that saves."""
        return self.is_bound and "more" in self.data

    def with_more_rows(self):
        """The same form with everything typed so far, nothing checked, and some more empty rows."""
        data = self.data.copy()
        field = f"{self.rows.prefix}-TOTAL_FORMS"
        typed = data.get(field, "")
        count = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 4 else 0
        data[field] = str(min(count + MORE, MOST))
        grown = type(self)(data, instance=self.instance, units=self.units, **self.given())
        grown.unchecked = grown.rows.unchecked = True
        for form in grown.rows.forms:
            form.unchecked = True
        return grown

    def given(self):
        """What a form of this class is made with besides data, instance and units."""
        return {}

    def is_valid(self):
        rows_are = self.rows.is_valid()
        return super().is_valid() and rows_are

    @transaction.atomic
    def save(self):
        row = super().save()
        self.rows.instance = row
        self.rows.save()
        return row
