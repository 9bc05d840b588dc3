"""Forms of sites: position from coordinates, the phone or a grid square; search and order of the list."""

from django import forms
from django.db.models import F

from equipment.forms.quantities import LengthField, MeasuredForm
from outings import geography
from outings.models import Contact, Site

from .fields import ReferencesField, WholeField

COORDINATES_HELP = "Latitude, then longitude: 48.1467, 11.6083, or N 48° 08.8' E 11° 36.5', or 48°08'48\"N 11°36'30\"E."
GRID_HELP = "Instead of coordinates: 2 to 10 characters, such as JO62 or JO62qm38. The centre of the square is taken."


class SiteForm(MeasuredForm):
    """A site with its position typed one way or the other; grid and time zone follow from it."""

    coordinates = forms.CharField(required=False, max_length=100, help_text=COORDINATES_HELP)
    grid_square = forms.CharField(
        required=False, max_length=20, help_text=GRID_HELP,
        widget=forms.TextInput(attrs={"class": "grid", "autocomplete": "off", "autocapitalize": "characters"}),
    )
    position_error_m = LengthField(
        label="Accuracy of the coordinates", required=False, maximum=1_000_000,
        help_text="How far off they may be; a phone says so.",
    )
    from_phone = forms.CharField(required=False, max_length=100, widget=forms.HiddenInput)
    references = ReferencesField(required=False, help_text="Several where areas overlap.")
    altitude_m = LengthField(label="Altitude", required=False, minimum=-500, maximum=9000)
    dxcc = WholeField(
        label="DXCC entity code", required=False, min_value=0, max_value=999, help_text="The number in the ADIF list."
    )
    cq_zone = WholeField(label="CQ zone", required=False, min_value=1, max_value=40)
    itu_zone = WholeField(label="ITU zone", required=False, min_value=1, max_value=90)

    class Meta:
        model = Site
        fields = [
            "name", "coordinates", "grid_square", "position_error_m", "altitude_m", "references", "permission",
            "facilities", "supports", "noise", "notes", "country", "dxcc", "state", "county", "cq_zone", "itu_zone",
        ]
        help_texts = {
            "permission": "Who allows it, when, what not to do.",
            "supports": "Trees, posts, railings; what a mast can stand on.",
            "noise": "On which bands, from what.",
        }
        widgets = {name: forms.Textarea(attrs={"rows": 3}) for name in (
            "permission", "facilities", "supports", "noise", "notes",
        )}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        site = self.instance
        if site.grid and "coordinates" not in self.initial and "grid_square" not in self.initial:
            if site.position_from == Site.PositionFrom.GRID:
                self.initial["grid_square"] = site.grid
                self.initial["position_error_m"] = None
            else:
                self.initial["coordinates"] = written(site.latitude_deg, site.longitude_deg)
                if site.position_from == Site.PositionFrom.PHONE:
                    self.initial["from_phone"] = self.initial["coordinates"]
            self.fields["position_error_m"].stored = self.initial["position_error_m"]

    def clean_coordinates(self):
        text = self.cleaned_data["coordinates"].strip()
        if not text:
            return None
        if text == self.initial.get("coordinates") and self.instance.grid:
            return self.instance.latitude_deg, self.instance.longitude_deg
        try:
            return geography.parse_position(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error

    def clean_grid_square(self):
        text = self.cleaned_data["grid_square"].strip()
        if not text:
            return ""
        try:
            return geography.canonical_grid(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error

    def clean(self):
        cleaned = super().clean()
        if self.errors.keys() & {"coordinates", "grid_square"}:
            return cleaned
        position, grid = cleaned.get("coordinates"), cleaned.get("grid_square")
        if position is None and not grid:
            self.add_error("coordinates", "A site needs a position: type coordinates or a grid square.")
        elif position and grid:
            there = geography.grid_of(*position, 10)
            if not there.lower().startswith(grid.lower()):
                self.add_error(
                    "grid_square",
                    f"The coordinates lie in {there[:max(len(grid), 6)]}, not in {grid}. Correct one of them, or leave "
                    "one empty.",
                )
        return cleaned

    def save(self, commit=True):
        site, position = self.instance, self.cleaned_data["coordinates"]
        if position is None:
            site.put_in_grid(self.cleaned_data["grid_square"])
        else:
            phone = self.cleaned_data["from_phone"].strip()
            source = Site.PositionFrom.COORDINATES
            if phone and phone == str(self.data.get(self.add_prefix("coordinates"), "")).strip():
                source = Site.PositionFrom.PHONE
            site.put_at(*position, source=source, error_m=self.cleaned_data["position_error_m"])
        saved = super().save(commit)
        if commit:
            Contact.objects.of(saved.owner_id).locate_from(saved)
        return saved


def written(latitude_deg, longitude_deg):
    """Coordinates as they are typed again, to six decimals, a tenth of a metre."""
    return geography.format_decimal(latitude_deg, longitude_deg, 6)


class SiteSearchForm(forms.Form):
    """What the list of sites shows, and in which order."""

    ORDERS = {
        "name": ("name", "id"), "-name": ("-name", "-id"), "grid": ("grid", "name", "id"),
        "-grid": ("-grid", "name", "id"), "last": (F("last_outing_at").asc(nulls_first=True), "name", "id"),
        "-last": (F("last_outing_at").desc(nulls_last=True), "name", "id"), "outings": ("outing_count", "name", "id"),
        "-outings": ("-outing_count", "name", "id"),
    }

    q = forms.CharField(
        label="Search", required=False, max_length=100, widget=forms.TextInput(attrs={"type": "search"})
    )
    state = forms.ChoiceField(
        label="Show", required=False, choices=[("", "in use"), ("retired", "retired"), ("all", "all")]
    )
    order = forms.CharField(required=False, widget=forms.HiddenInput)

    def clean_order(self):
        order = self.cleaned_data["order"]
        return order if order in self.ORDERS else "name"
