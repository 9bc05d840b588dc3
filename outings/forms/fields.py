"""Fields that forms of outings share: numbers with a decimal comma, times of day, pairs of programme and reference."""

import datetime

from django import forms
from django.core.exceptions import ValidationError

from equipment.numerals import Numeral
from outings import windows


class NumberField(forms.FloatField):
    """A number without a unit, typed with a decimal point or comma."""

    widget = forms.TextInput

    def __init__(self, **options):
        super().__init__(**options)
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off", "class": "short"})

    def prepare_value(self, value):
        return f"{Numeral(value):.12g}" if isinstance(value, float) else value

    def to_python(self, value):
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)


class WholeField(forms.IntegerField):
    """A whole number; a text input, since number inputs throw away what they cannot read."""

    widget = forms.TextInput

    def __init__(self, **options):
        super().__init__(**options)
        self.widget.attrs.update({"inputmode": "numeric", "autocomplete": "off", "class": "short"})


YEARS = range(1900, 2200)


def known_year(date):
    """Refuse a year that is more likely mistyped than meant."""
    if date.year not in YEARS:
        raise ValidationError(f"The year {date.year} cannot be right: it lies before 1900 or after 2199.")
    return date


class DayField(forms.DateField):
    """A date, with the browser's calendar where it has one."""

    def __init__(self, **options):
        options.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
        options.setdefault("input_formats", ["%Y-%m-%d"])
        options.setdefault("error_messages", {"invalid": "Type the date as year-month-day: 2026-06-21."})
        super().__init__(**options)

    def to_python(self, value):
        date = super().to_python(value)
        return None if date is None else known_year(date)


class TimeOfDayField(forms.Field):
    """Hours and minutes, with the browser's clock where it has one."""

    def __init__(self, **options):
        options.setdefault("widget", forms.TextInput(attrs={"type": "time", "class": "short"}))
        super().__init__(**options)

    def prepare_value(self, value):
        return f"{value:%H:%M}" if isinstance(value, datetime.time) else value

    def to_python(self, value):
        text = "" if value is None else str(value).strip()
        if not text:
            return None
        try:
            return windows.read_time(text.removesuffix(":00") if text.count(":") == 2 else text)
        except ValueError as error:
            raise ValidationError(str(error), code="invalid") from error


class LocalMomentField(forms.Field):
    """A date and a time of day without a zone, as (date, time), with the browser's calendar where it has one."""

    def __init__(self, **options):
        options.setdefault("widget", forms.TextInput(attrs={"type": "datetime-local"}))
        super().__init__(**options)

    def prepare_value(self, value):
        return f"{value:%Y-%m-%dT%H:%M}" if isinstance(value, datetime.datetime) else value

    def to_python(self, value):
        text = "" if value is None else str(value).strip()
        if not text:
            return None
        day, _, clock = text.replace("T", " ").partition(" ")
        try:
            date = datetime.date.fromisoformat(day)
            time = windows.read_time(clock[:5] if clock.count(":") == 2 else clock)
        except ValueError as error:
            raise ValidationError("Type date and time as 2026-06-21 14:05.", code="invalid") from error
        return known_year(date), time


class ReferencesWidget(forms.Widget):
    """Rows of two inputs each: programme and reference."""

    template_name = "outings/widgets/references.html"
    use_fieldset = True
    fewest_rows, blank_rows = 3, 1

    def id_for_label(self, id_, index=None):
        return id_

    def value_from_datadict(self, data, files, name):
        if hasattr(data, "getlist"):
            programmes, references = data.getlist(f"{name}_programme"), data.getlist(f"{name}_reference")
        else:
            programmes, references = data.get(f"{name}_programme", []), data.get(f"{name}_reference", [])
        length = max(len(programmes), len(references))
        return [
            {"programme": programmes[i] if i < len(programmes) else "",
             "reference": references[i] if i < len(references) else ""}
            for i in range(length)
        ]

    def value_omitted_from_data(self, data, files, name):
        return f"{name}_programme" not in data and f"{name}_reference" not in data

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, attrs)
        pairs = [pair for pair in value or [] if isinstance(pair, dict)]
        pairs = [pair for pair in pairs if pair.get("programme") or pair.get("reference")]
        blank = max(self.fewest_rows - len(pairs), self.blank_rows)
        context["widget"]["pairs"] = [*pairs, *({"programme": "", "reference": ""} for _ in range(blank))]
        return context


class ReferencesField(forms.Field):
    """References as a list of {"programme", "reference"}; free text, several at once where areas overlap."""

    widget = ReferencesWidget
    most, longest_programme, longest_reference = 20, 40, 60

    def to_python(self, value):
        found = []
        for pair in value or []:
            pair = {key: " ".join(str(pair.get(key) or "").split()) for key in ("programme", "reference")}
            if any(pair.values()) and pair not in found:
                found.append(pair)
        return found

    def validate(self, value):
        super().validate(value)
        if len(value) > self.most:
            raise ValidationError(f"At most {self.most} references can be kept.")
        for pair in value:
            if not pair["reference"]:
                raise ValidationError(f"The reference for {pair['programme']} is missing.")
            if len(pair["programme"]) > self.longest_programme:
                raise ValidationError(f"A programme has at most {self.longest_programme} characters.")
            if len(pair["reference"]) > self.longest_reference:
                raise ValidationError(f"A reference has at most {self.longest_reference} characters.")

    def has_changed(self, initial, data):
        return self.to_python(initial) != self.to_python(data)
