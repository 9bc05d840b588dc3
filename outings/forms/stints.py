"""Forms of stints: what is on the air, changed, added or corrected, and the moment at which something happened."""

import uuid

from django import forms

from equipment.models import Arrangement, Pack, Radio
from equipment.numerals import Numeral
from outings import clock, dial
from outings.models import Stint, StintError

WHEN_HELP = "Empty is now. Or minutes ago (-20), or UTC as HHMM or HHMMSS."
USUAL_MODES = ("SSB", "CW", "FM", "FT8", "FT4", "RTTY", "PSK31", "AM", "USB", "LSB")


class MomentField(forms.CharField):
    """A moment in UTC as operators type it, empty for now; `now` is set by the form."""

    now = None

    def __init__(self, **options):
        super().__init__(required=False, max_length=30, help_text=WHEN_HELP, **options)
        self.widget.attrs.update({"autocomplete": "off", "placeholder": "now, or -20, or 1405"})

    def clean(self, value):
        text = super().clean(value)
        try:
            return clock.read(text, self.now).at
        except clock.NotATime as reason:
            raise forms.ValidationError(str(reason)) from None


class RatioField(forms.FloatField):
    """A number that may be typed with a decimal comma."""

    widget = forms.TextInput

    def __init__(self, **options):
        super().__init__(**options)
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def prepare_value(self, value):
        return str(Numeral(value)) if isinstance(value, float) else value

    def to_python(self, value):
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)


class WhenForm(forms.Form):
    """When a stint was paused, resumed or stopped, or its start lay."""

    at = MomentField(label="When")

    def __init__(self, *args, now, stint=None, **options):
        options.setdefault("prefix", f"when-{stint.pk}" if stint else None)
        super().__init__(*args, **options)
        self.fields["at"].now = now

    def apply(self, act, *arguments):
        """Do something at the moment that was typed; a refusal becomes the field's error. True once it was done."""
        if not self.is_valid():
            return False
        try:
            act(*arguments, self.cleaned_data["at"])
        except StintError as reason:
            self.add_error("at", str(reason))
            return False
        return True


class StintForm(forms.ModelForm):
    """What is on the air; every field may be left as it is, and the gear of the outing's kit comes first."""

    tuning = forms.CharField(
        label="Band or frequency", max_length=30,
        help_text="20m, or kHz or MHz: 14285, 14.285. The frequency gives the band.",
    )
    mode_typed = forms.CharField(label="Mode", max_length=20, help_text="Mode or submode: SSB, CW, FT8.")
    power = forms.CharField(label="Power", required=False, max_length=20, help_text="Watts: 5, or 500 mW.")
    swr_at_radio = RatioField(label="SWR at the radio", required=False, min_value=1)
    setup_min = RatioField(label="Set-up minutes", required=False, min_value=0)
    takedown_min = RatioField(label="Take-down minutes", required=False, min_value=0)
    outside = forms.CharField(required=False, widget=forms.HiddenInput)
    identity = forms.UUIDField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Stint
        fields = [
            "radio", "arrangement", "pack", "other_source", "tuner_in", "calling", "swr_at_radio", "setup_min",
            "takedown_min", "note",
        ]
        labels = {"pack": "Battery pack", "other_source": "Or another source"}
        widgets = {
            "other_source": forms.TextInput(attrs={"list": "sources", "autocomplete": "off"}),
            "tuner_in": forms.NullBooleanSelect,
        }

    field_order = [
        "radio", "arrangement", "tuning", "mode_typed", "power", "pack", "other_source", "calling", "tuner_in",
        "swr_at_radio", "setup_min", "takedown_min", "note",
    ]

    def __init__(self, *args, outing, gear, **options):
        super().__init__(*args, **options)
        self.outing, self.gear = outing, gear
        stint = self.instance
        self._offer("radio", Radio, gear.radios, stint.radio, "not noted")
        self._offer("arrangement", Arrangement, gear.arrangements, stint.arrangement, "not noted")
        self._offer("pack", Pack, gear.packs, stint.pack, "none")
        self.fields["tuner_in"].widget.choices = [("unknown", "not noted"), ("true", "in"), ("false", "out")]
        self.fields["calling"].choices = [("", "not noted"), *Stint.Calling.choices]
        self.fields["tuning"].widget.attrs.update({"list": "bands", "autocomplete": "off"})
        self.fields["mode_typed"].widget.attrs.update({
            "list": "modes", "autocomplete": "off", "autocapitalize": "characters",
        })
        self.fields["power"].widget.attrs["autocomplete"] = "off"
        self.fields["identity"].initial = uuid.uuid4
        if stint.mode:
            frequency_hz = stint.frequency_hz
            self.initial.setdefault("tuning", dial.frequency_text(frequency_hz) if frequency_hz else stint.band)
            self.initial.setdefault("mode_typed", stint.submode or stint.mode)
            self.initial.setdefault("power", "" if stint.power_w is None else dial.power_text(stint.power_w))

    def _offer(self, name, model, gear, current, none):
        """Choices in two groups; what is chosen already stays to be chosen, though it be retired."""
        field, (kit, rest) = self.fields[name], gear
        if current and current not in (*kit, *rest):
            rest = (*rest, current)
        allowed = {item.pk for item in (*kit, *rest)}
        field.queryset = model.objects.of(self.outing.owner).filter(pk__in=allowed)
        groups = [("In the kit", kit), ("Other gear", rest)] if kit else [(None, rest)]
        choices = [("", none)]
        for heading, items in groups:
            lines = [(item.pk, self.named(item)) for item in items]
            choices += [(heading, lines)] if heading and lines else lines
        field.widget.choices = choices

    @staticmethod
    def named(item):
        return f"{item.antenna}: {item}" if isinstance(item, Arrangement) else str(item)

    def clean_tuning(self):
        try:
            tuning = dial.tuning(self.cleaned_data["tuning"])
        except dial.Unreadable as reason:
            raise forms.ValidationError(str(reason)) from None
        if not tuning.band and self.data.get(self.add_prefix("outside")) != str(tuning.frequency_hz):
            self.data = self.data.copy()  # asked once; the same frequency sent again is meant
            self.data[self.add_prefix("outside")] = str(tuning.frequency_hz)
            raise forms.ValidationError(
                f"{dial.frequency_text(tuning.frequency_hz)} MHz lies in no band of the ADIF standard. "
                "Correct it, or send it again to keep it without a band."
            )
        return tuning

    def clean_mode_typed(self):
        try:
            return dial.mode(self.cleaned_data["mode_typed"])
        except dial.Unreadable as reason:
            raise forms.ValidationError(str(reason)) from None

    def clean_power(self):
        text = self.cleaned_data["power"]
        try:
            return dial.power_w(text) if text else None
        except dial.Unreadable as reason:
            raise forms.ValidationError(str(reason)) from None

    def clean(self):
        values = super().clean()
        if values.get("pack") and values.get("other_source"):
            self.add_error("other_source", "Choose a pack or name another source, not both.")
        stint = self.instance
        if "tuning" in values:
            stint.band, stint.frequency_hz = values["tuning"].band, values["tuning"].frequency_hz
        if "mode_typed" in values:
            stint.mode, stint.submode = values["mode_typed"]
        if "power" in values:
            stint.power_w = values["power"]
        return values

    def act(self, act, *arguments):
        """Do something with the stint; a refusal becomes an error of the whole form. Returns what it gave, or None."""
        try:
            return act(*arguments)
        except StintError as reason:
            self.add_error(None, str(reason))
            return None

    @property
    def repeated(self):
        """The stint that this very form made already, where a request arrives twice."""
        identity = self.cleaned_data.get("identity")
        return Stint.everything.of(self.outing.owner).filter(uuid=identity).first() if identity else None


class BeginForm(StintForm):
    """Begin a stint; `like` is the last one, whose gear is proposed again."""

    at = MomentField(label="Since")

    def __init__(self, *args, outing, gear, now, like=None, **options):
        stint = Stint(owner=outing.owner, outing=outing)
        if like:
            for name in Stint.CARRIED:
                if name != "swr_at_radio":
                    setattr(stint, name, getattr(like, name))
        super().__init__(*args, outing=outing, gear=gear, instance=stint, prefix="begin", **options)
        self.fields["at"].now = now
        if not like:
            self._propose(outing, gear)

    def _propose(self, outing, gear):
        """What the kit leaves no choice about, and the first band of the plan."""
        for name, (kit, _) in (("radio", gear.radios), ("arrangement", gear.arrangements), ("pack", gear.packs)):
            if len(kit) == 1:
                self.initial[name] = kit[0].pk
        if outing.bands:
            self.initial["tuning"] = outing.bands[0]

    def save(self, actor):
        """Begin; None where it was refused, with the reason among the errors."""
        if self.repeated:
            return self.repeated
        self.instance.uuid = self.cleaned_data["identity"] or self.instance.uuid
        self.act(self.instance.begin, actor, self.cleaned_data["at"])
        return self.instance if not self.errors else None


class ChangeForm(StintForm):
    """Change what is on the air: the running stint ends and the next begins at that second."""

    at = MomentField(label="Changed")

    def __init__(self, *args, stint, gear, now, **options):
        self.running = stint
        following = Stint(owner_id=stint.owner_id, outing=stint.outing)
        for name in Stint.CARRIED:
            setattr(following, name, getattr(stint, name))
        super().__init__(
            *args, outing=stint.outing, gear=gear, instance=following, prefix=f"change-{stint.pk}", **options
        )
        self.fields["at"].now = now
        del self.fields["setup_min"], self.fields["takedown_min"]

    def clean(self):
        values = super().clean()
        following = self.instance
        if "tuning" in values:
            moved = (following.band, values.get("arrangement")) != (self.running.band, self.running.arrangement)
            if moved and "swr_at_radio" not in self.changed_data:
                values["swr_at_radio"] = None  # measured on another band or antenna
        return values

    def save(self, actor):
        """Change; the next stint, or None where it was refused, with the reason among the errors."""
        if self.repeated:
            return self.repeated
        following = self.instance
        changes = {name: getattr(following, name) for name in Stint.CARRIED if name != "swr_at_radio"}
        changes |= {"swr_at_radio": self.cleaned_data["swr_at_radio"], "note": self.cleaned_data["note"]}
        if all(getattr(self.running, name) == value for name, value in changes.items() if name != "note"):
            self.add_error(None, "Nothing is different from what is on the air.")
            return None
        identity = self.cleaned_data["identity"]
        return self.act(
            lambda: self.running.follow_with(actor, self.cleaned_data["at"], identity=identity, **changes)
        )


class WholeStintForm(StintForm):
    """A whole stint, added afterwards or corrected, with its beginning and its end."""

    started = forms.CharField(label="From", max_length=30, help_text="UTC date and time, such as 2026-05-01 1305.")
    ended = forms.CharField(
        label="To", max_length=30, help_text="UTC; a time alone is the next one after the beginning, over midnight too."
    )

    def __init__(self, *args, outing, gear, now, instance=None, like=None, **options):
        self.new, self.now = instance is None, now
        if self.new:
            instance = Stint(owner=outing.owner, outing=outing)
            for name in Stint.CARRIED if like else ():
                setattr(instance, name, getattr(like, name))
        super().__init__(*args, outing=outing, gear=gear, instance=instance, **options)
        if self.new:
            begins = (like.ended_at or like.started_at) if like else outing.started_at or outing.window_start
            self.day = begins.date()
            self.initial.setdefault("started", moment_text(begins))
        else:
            self.day = instance.started_at.date()
            self.fields["ended"].required = instance.ended_at is not None
            self.initial.setdefault("started", moment_text(instance.started_at))
            self.initial.setdefault("ended", moment_text(instance.ended_at) if instance.ended_at else "")
        self.order_fields(["started", "ended", *self.field_order])

    def _past(self, read, text, *arguments):
        """A moment that is past; a refusal becomes the field's error."""
        try:
            at = read(text, *arguments).at
        except clock.NotATime as reason:
            raise forms.ValidationError(str(reason)) from None
        if at > self.now + clock.AHEAD:
            raise forms.ValidationError(f"{at:%Y-%m-%d %H:%M} UTC is still ahead.")
        return at

    def clean_started(self):
        self.instance.started_at = self._past(clock.dated, self.cleaned_data["started"], self.day)
        return self.instance.started_at

    def clean_ended(self):
        text = self.cleaned_data["ended"]
        if not text or "started" not in self.cleaned_data:
            self.instance.ended_at = None
            return None
        self.instance.ended_at = self._past(clock.next_after, text, self.cleaned_data["started"])
        return self.instance.ended_at

    def save(self, actor):
        """Add or correct; None where it was refused, with the reason among the errors."""
        if self.new and self.repeated:
            return self.repeated
        if self.new:
            self.instance.uuid = self.cleaned_data["identity"] or self.instance.uuid
        self.act(self.instance.add if self.new else self.instance.correct, actor)
        return self.instance if not self.errors else None


def moment_text(at):
    """A moment as it is typed again; its seconds only where there are any."""
    return f"{at:%Y-%m-%d %H%M%S}" if at.second else f"{at:%Y-%m-%d %H%M}"
