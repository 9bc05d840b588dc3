"""Forms of the file pages: what is uploaded, and what the operator says about it before it is imported."""

from django import forms
from django.conf import settings

from outings import geography
from outings.adif import adi
from outings.adif.records import NotADIF
from outings.intake import gear, uploads
from outings.intake.stretches import GAP_MIN
from outings.models import ImportedFile, Outing, Site

from .fields import NumberField

MOST_PLACES = 200  # that are asked about one by one; further ones become the likely site, or a new one

GEAR_LABELS = {"radio": "Radio", "arrangement": "Arrangement", "pack": "Battery pack"}


def contacts_of(entry):
    """How many contacts an entry of a file's summary stands for, in words."""
    return f"{entry['count']} contact{'' if entry['count'] == 1 else 's'}"


class UploadForm(forms.Form):
    """A log file."""

    log = forms.FileField(
        label="Log file", allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ",".join(uploads.ENDINGS)}),
        error_messages={"required": "Choose a log file first."},
    )

    def __init__(self, *args, operator, **options):
        super().__init__(*args, **options)
        self.operator = operator
        self.fields["log"].help_text = (
            f"ADI or ADX, of any program and version, up to {settings.LOG_UPLOAD_MAX_BYTES // 2**20} MB. "
            "Nothing is changed before you have seen what is in it."
        )

    def clean_log(self):
        """Stage the file; one that is no log leaves nothing behind."""
        try:
            self.staged = uploads.stage(self.operator, self.cleaned_data["log"])
        except NotADIF as error:
            raise forms.ValidationError(str(error)) from None
        return self.cleaned_data["log"]

    def save(self):
        """The staged file."""
        return self.staged


class EncodingForm(forms.Form):
    """In which letters a file is written, where the guess was wrong."""

    encoding = forms.ChoiceField(
        label="Written in", required=False, choices=[("", "what it looks like"), *adi.ENCODINGS.items()]
    )

    def __init__(self, *args, imported, **options):
        super().__init__(*args, initial={"encoding": imported.choices.get("encoding", "")}, **options)
        self.imported = imported

    def save(self):
        """Note it with the file, which is read again."""
        if self.cleaned_data["encoding"]:
            self.imported.choices["encoding"] = self.cleaned_data["encoding"]
        else:
            self.imported.choices.pop("encoding", None)
        self.imported.save(update_fields=["choices"])
        self.imported.begin(ImportedFile.Status.READING)
        return self.imported


class OutingField(forms.ModelChoiceField):
    """One outing, named with its day and call."""

    def label_from_instance(self, outing):
        return f"{outing.window_start:%Y-%m-%d} {outing} ({outing.station_call})"


class ImportForm(forms.Form):
    """Where the contacts of a file belong, which gear they were made with, and what becomes of those known already."""

    onto = forms.ChoiceField(
        label="Onto which outings", widget=forms.RadioSelect, initial="sites",
        choices=[
            ("sites", "one for each site, UTC day and call sign used; those that are there already are filled up"),
            ("outing", "all onto one outing"),
        ],
    )
    outing = OutingField(Outing.objects.none(), label="The outing", required=False, empty_label="choose one")
    update_changed = forms.BooleanField(
        label="Update contacts that differ", required=False, help_text="The file’s values replace those of the log."
    )
    take_twice = forms.BooleanField(
        label="Take repeated records as contacts of their own", required=False,
        help_text="Otherwise a contact that stands twice in the file is taken once.",
    )
    bring_back = forms.BooleanField(label="Bring back contacts that were deleted", required=False)
    gap_min = NumberField(
        label="A stint ends after", initial=GAP_MIN, min_value=1, max_value=24 * 60, required=False,
        help_text="minutes without a contact. For contacts that no recorded stint covers.",
    )

    def __init__(self, *args, imported, **options):
        super().__init__(*args, **options)
        self.imported, operator = imported, imported.owner
        self.fields["outing"].queryset = Outing.objects.of(operator).select_related("site")
        summary = imported.summary
        counts = summary.get("counts", {})
        for name, key in (("update_changed", "changed"), ("take_twice", "twice"), ("bring_back", "deleted")):
            if not counts.get(key):
                del self.fields[name]
        sites = [(site.pk, f"{site} ({site.grid})") for site in Site.objects.of(operator).in_use()]
        self.places = summary.get("places", [])[:MOST_PLACES]
        for number, place in enumerate(self.places):
            new = "a new site" if place["positioned"] else "a new site, in this grid square:"
            self.fields[f"site_{number}"] = forms.TypedChoiceField(
                label=f"{place['label']}: {contacts_of(place)}", required=False, coerce=int, empty_value=None,
                choices=[("", new), *sites], initial=place["site"],
            )
            self.fields[f"name_{number}"] = forms.CharField(
                label=f"Name of a new site for {place['label']}", required=False, max_length=80,
                widget=forms.TextInput(attrs={"placeholder": place["label"] if place["positioned"] else ""}),
            )
            if not place["positioned"]:
                self.fields[f"grid_{number}"] = forms.CharField(
                    label="Its grid square", required=False, max_length=10, initial=operator.home_grid,
                    widget=forms.TextInput(attrs={"class": "grid short", "autocomplete": "off", "spellcheck": "false"}),
                )
        self.names = []
        for kind, rows in summary.get("gear", {}).items():
            pieces = [(piece.pk, gear.spoken(piece)) for piece in gear.owned(kind, operator)] if rows else []
            for row in rows:
                name = f"{kind}_{len(self.names)}"
                self.names.append((name, kind, row["text"]))
                self.fields[name] = forms.TypedChoiceField(
                    label=f"{GEAR_LABELS[kind]} “{row['text']}”: {contacts_of(row)}", required=False, coerce=int,
                    empty_value=None, choices=[("", "none of mine"), *pieces], initial=row["piece"],
                )

    def place_rows(self):
        """The fields of each place: (site, name, grid or None)."""
        return [
            (self[f"site_{n}"], self[f"name_{n}"], self[f"grid_{n}"] if f"grid_{n}" in self.fields else None)
            for n in range(len(self.places))
        ]

    def gear_fields(self):
        return [self[name] for name, _, _ in self.names]

    def option_fields(self):
        names = ("update_changed", "take_twice", "bring_back", "gap_min")
        return [self[name] for name in names if name in self.fields]

    def clean(self):
        given = super().clean()
        if given.get("onto") == "outing":
            if not given.get("outing") and "outing" not in self.errors:
                self.add_error("outing", "Choose the outing.")
            return given
        for number, place in enumerate(self.places):
            name = f"grid_{number}"
            if place["positioned"] or given.get(f"site_{number}") or name in self.errors:
                continue
            try:
                given[name] = geography.canonical_grid(given.get(name, ""))
            except ValueError as error:
                self.add_error(name, f"The file does not say where. Choose a site, or give a grid square. {error}")
        return given

    def save(self):
        """Note the choices with the file, and that it is to be imported."""
        given, operator = self.cleaned_data, self.imported.owner
        onto_outing = given["onto"] == "outing"
        kept = {name: self.imported.choices[name] for name in ("encoding",) if name in self.imported.choices}
        self.imported.choices = {
            **kept, "outing": given["outing"].pk if onto_outing else None,
            "sites": {} if onto_outing else {
                place["key"]: {
                    "site": given.get(f"site_{n}"), "name": given.get(f"name_{n}", ""),
                    "grid": given.get(f"grid_{n}", ""),
                } for n, place in enumerate(self.places)
            },
            "gear": {
                kind: {text: given[name] for name, its_kind, text in self.names if its_kind == kind and given.get(name)}
                for kind in gear.KINDS
            },
            "grid": operator.home_grid, "gap_min": given.get("gap_min") or GAP_MIN,
            **{name: bool(given.get(name)) for name in ("update_changed", "take_twice", "bring_back")},
        }
        self.imported.save(update_fields=["choices"])
        self.imported.begin(ImportedFile.Status.IMPORTING)
        return self.imported


