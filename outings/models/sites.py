"""Sites: the parks, hilltops and shorelines that are operated from."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from equipment.models import Owned, OwnedQuerySet
from outings import geography


class SiteQuerySet(OwnedQuerySet):
    """Places to operate from."""

    def in_use(self):
        return self.filter(retired_on__isnull=True)


class Site(Owned):
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
    permission = models.TextField(blank=True)
    facilities = models.TextField(blank=True)
    supports = models.TextField("supports for antennas", blank=True)
    noise = models.TextField(blank=True)
    notes = models.TextField(blank=True)
    country = models.CharField(max_length=80, blank=True)
    dxcc = models.PositiveSmallIntegerField("DXCC entity code", null=True, blank=True)
    state = models.CharField("state or province", max_length=20, blank=True)
    county = models.CharField(max_length=80, blank=True)
    cq_zone = models.PositiveSmallIntegerField("CQ zone", null=True, blank=True)
    itu_zone = models.PositiveSmallIntegerField("ITU zone", null=True, blank=True)
    retired_on = models.DateField("no longer used", null=True, blank=True)

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["owner", "name"], name="site_owner_name")]

    def __str__(self):
        return self.name

    @property
    def place(self):
        """Its position as a place: the cell of its grid square where only that is known, else a point."""
        if self.position_from == self.PositionFrom.GRID and self.grid:
            return geography.place_of_grid(self.grid)
        return geography.Place(self.latitude_deg, self.longitude_deg)
