"""Form fields for quantities: typed in the operator's units, stored in SI, and unchanged when saved unchanged."""

from django import forms
from django.core.exceptions import ValidationError

from equipment import typed_quantities as typed
from equipment.numerals import localised
from equipment.units import IMPERIAL, METRIC


class QuantityField(forms.Field):
    """A quantity as text. What is shown for a stored value gives that very value back, however it was rounded."""

    quantity = None
    stored = None

    def __init__(self, *, units=METRIC, minimum=0, maximum=None, **kwargs):
        super().__init__(**kwargs)
        self.minimum, self.maximum = minimum, maximum
        self.words = self.label
        self.use(units)

    def use(self, units):
        """Take numbers in these units; the label says which."""
        self.units = units if units in (METRIC, IMPERIAL) else METRIC
        if self.words:
            unit = self.quantity.unit(self.units)
            self.label = f"{self.words} in {unit}" if unit else self.words
        feet_and_inches = self.units == IMPERIAL and self.quantity.below
        self.widget.attrs.update(self.widget_attrs(self.widget))
        self.widget.attrs["inputmode"] = "text" if feet_and_inches or self.may_be_negative else "decimal"

    @property
    def may_be_negative(self):
        return self.minimum is None or self.minimum < 0

    def widget_attrs(self, widget):
        return {"autocomplete": "off", "maxlength": typed.LONGEST}

    def prepare_value(self, value):
        if value is None or isinstance(value, str):
            return value
        return localised(typed.write(value, self.quantity, self.units))

    def to_python(self, value):
        text = "" if value is None else str(value).strip()
        if not text:
            return None
        if self.stored is not None and text.replace(",", ".") == typed.write(self.stored, self.quantity, self.units):
            return self.stored
        try:
            return typed.read(text, self.quantity, self.units)
        except ValueError as error:
            raise ValidationError(str(error), code="unreadable") from error

    def validate(self, value):
        super().validate(value)
        if value is None:
            return
        if self.minimum is not None and value < self.minimum:
            least = "zero" if self.minimum == 0 else typed.bound(self.minimum, self.quantity, self.units)
            raise ValidationError(f"This {self.quantity.name} cannot be below {least}.", code="too small")
        if self.maximum is not None and value > self.maximum:
            most = typed.bound(self.maximum, self.quantity, self.units)
            raise ValidationError(f"This {self.quantity.name} cannot be above {most}.", code="too large")

    def has_changed(self, initial, data):
        self.stored = initial if self.stored is None and isinstance(initial, float) else self.stored
        try:
            return self.to_python(data) != initial
        except ValidationError:
            return True


class LengthField(QuantityField):
    """A length in metres."""

    quantity = typed.LENGTH


class WeightField(QuantityField):
    """A weight in kilograms."""

    quantity = typed.WEIGHT


class PowerField(QuantityField):
    """A power in watts."""

    quantity = typed.POWER


class CurrentField(QuantityField):
    """A current in amperes."""

    quantity = typed.CURRENT


class VoltageField(QuantityField):
    """A voltage in volts."""

    quantity = typed.VOLTAGE


class CapacityField(QuantityField):
    """A capacity in ampere-hours."""

    quantity = typed.CAPACITY


class ResistanceField(QuantityField):
    """A resistance in ohms."""

    quantity = typed.RESISTANCE


class AngleField(QuantityField):
    """A direction in degrees from true north."""

    quantity = typed.ANGLE


class TemperatureField(QuantityField):
    """A temperature in degrees Celsius."""

    quantity = typed.TEMPERATURE


class FrequencyField(QuantityField):
    """A frequency in hertz, typed in MHz."""

    quantity = typed.FREQUENCY


class DurationField(QuantityField):
    """A length of time in hours."""

    quantity = typed.DURATION


class PercentField(QuantityField):
    """A share in per cent."""

    quantity = typed.PERCENT


class NumberField(QuantityField):
    """A number without a unit."""

    quantity = typed.NUMBER


class AreaField(QuantityField):
    """A cross-section in square millimetres."""

    quantity = typed.AREA


class ThicknessField(QuantityField):
    """A diameter of a wire, a whip or a coil, typed in millimetres or inches."""

    quantity = typed.THICKNESS


class InductanceField(QuantityField):
    """An inductance in henry, typed in microhenry."""

    quantity = typed.INDUCTANCE


class DecibelField(QuantityField):
    """A ratio in decibels."""

    quantity = typed.DECIBELS


class MeasuredForm(forms.ModelForm):
    """A form with quantities: give it `units`, those of the operator.

    It sends along the units that it was shown in, so that a preference changed meanwhile elsewhere does not turn feet
    into metres.
    """

    typed_in = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args, units=METRIC, **kwargs):
        super().__init__(*args, **kwargs)
        shown_in = self.data.get(self.add_prefix("typed_in")) if self.is_bound else None
        self.units = shown_in if shown_in in (METRIC, IMPERIAL) else units
        if "typed_in" in self.fields:
            self.fields["typed_in"].initial = self.units
        for name, field in self.fields.items():
            if isinstance(field, QuantityField):
                field.stored = self.initial.get(name)
                field.use(self.units)
