"""Sites: the parks, hilltops and shorelines that are operated from."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse

from equipment.models import Retirable, RetirableQuerySet
from outings import geography

LONGEST_TEXT = 10_000  # characters; more would not be read in the field, nor printed


class SiteQuerySet(RetirableQuerySet):
    """Places to operate from."""


class Site(Retirable):
    """A place to operate from; its grid squares and time zone follow from its position."""

    class PositionFrom(models.TextChoices):
        COORDINATES = "coordinates", "coordinates"
        PHONE = "phone", "phone position"
        GRID = "grid", "grid square"

    name = models.CharField(max_length=80)
    latitude_deg = models.FloatField("latitude", validators=[MinValueValidator(-90), MaxValueValidator(90)])
    longitude_deg = models.FloatField("longitude", validators=[MinValueValidator(-180), MaxValueValidator(180)])
    position_from = models.CharField(max_length=12, choices=PositionFrom, default=PositionFrom.COORDINATES)
    position_error_m = models.FloatField("position good to", null=True, blank=True, validators=[MinValueValidator(0)])
    altitude_m = models.FloatField("altitude", null=True, blank=True)
    grid = models.CharField(max_length=10, editable=False)
    time_zone = models.CharField(max_length=64, editable=False)
    references = models.JSONField(default=list, blank=True)  # [{"programme": "...", "reference": "..."}, ...]
    permission = models.TextField(blank=True, max_length=LONGEST_TEXT)
    facilities = models.TextField(blank=True, max_length=LONGEST_TEXT)
    supports = models.TextField("supports for antennas", blank=True, max_length=LONGEST_TEXT)
    noise = models.TextField(blank=True, max_length=LONGEST_TEXT)
    notes = models.TextField(blank=True, max_length=LONGEST_TEXT)
    country = models.CharField(max_length=80, blank=True)
    dxcc = models.PositiveSmallIntegerField("DXCC entity code", null=True, blank=True)
    state = models.CharField("state or province", max_length=20, blank=True)
    county = models.CharField(max_length=80, blank=True)
    cq_zone = models.PositiveSmallIntegerField("CQ zone", null=True, blank=True)
    itu_zone = models.PositiveSmallIntegerField("ITU zone", null=True, blank=True)

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["owner", "name"], name="site_owner_name")]

    def __str__(self):
        return self.name

    def get_absolute_url(self):
        return reverse("outings:site", args=[self.pk])

    @property
    def place(self):
        """Its position as a place: the cell of its grid square where only that is known, else a point."""
        if self.position_from == self.PositionFrom.GRID and self.grid:
            return geography.place_of_grid(self.grid)
        return geography.Place(self.latitude_deg, self.longitude_deg)

    @property
    def grid_4(self):
        """The grid square to four characters, or to as many as the position is known to."""
        return self.grid[:4]

    @property
    def grid_6(self):
        """The grid square to six characters, or to as many as the position is known to."""
        return self.grid[:6]

    @property
    def grid_8(self):
        """The grid square to eight characters; empty where the position is not known so well."""
        return self.grid[:8] if len(self.grid) >= 8 else ""

    @property
    def position_error_km(self):
        return None if self.position_error_m is None else self.position_error_m / 1000

    @property
    def reference_texts(self):
        """The references as lines of text: programme and reference."""
        return [reference_text(pair) for pair in self.references]

    def put_at(self, latitude_deg, longitude_deg, *, source, error_m=None):
        """Move to coordinates; grid (ten characters) and time zone follow."""
        self.latitude_deg, self.longitude_deg = latitude_deg, longitude_deg
        self.position_from, self.position_error_m = source, error_m
        self.grid = geography.grid_of(latitude_deg, longitude_deg, 10)
        self.time_zone = geography.time_zone(latitude_deg, longitude_deg)

    def put_in_grid(self, grid):
        """Move to the centre of a grid square, as good as the square is small; the grid stays as it was given."""
        place = geography.place_of_grid(grid)
        self.put_at(
            place.latitude_deg, place.longitude_deg, source=self.PositionFrom.GRID,
            error_m=geography.half_diagonal_km(place) * 1000,
        )
        self.grid = geography.canonical_grid(grid)

    def is_referred_to(self):
        """Whether an outing is here, deleted ones included: they can come back."""
        return self.outings(manager="everything").exists()


def reference_text(pair):
    """A programme and its reference as one text."""
    return " ".join(part for part in (pair.get("programme", ""), pair.get("reference", "")) if part)
