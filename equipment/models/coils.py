"""Loading coils of antennas, and the taps that were found on them, each with the whip it was found with."""

from django.core.validators import MinValueValidator
from django.db import models, transaction
from django.urls import reverse

from equipment.numerals import Numeral
from equipment.physics import coil as coils

from .history import Owned, OwnedQuerySet
from .items import NOT_NEGATIVE, Antenna

SAME_LENGTH_M = 0.01  # a whip is not drawn out more exactly than this


class CoilQuerySet(OwnedQuerySet):
    """Coils; one whose antenna is retired is not in use."""

    def in_use(self):
        return self.filter(antenna__retired_on__isnull=True)


class Coil(Owned):
    """A loading coil of an antenna; an arrangement uses it by its name."""

    antenna = models.ForeignKey(Antenna, on_delete=models.CASCADE, related_name="coils")
    name = models.CharField(max_length=80)
    diameter_m = models.FloatField("diameter", null=True, blank=True, validators=NOT_NEGATIVE)
    length_m = models.FloatField("length of the winding", null=True, blank=True, validators=NOT_NEGATIVE)
    turns = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    q = models.FloatField("Q", null=True, blank=True, validators=[MinValueValidator(1)])
    notes = models.TextField(blank=True)

    objects = CoilQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [models.UniqueConstraint(fields=["antenna", "name"], name="one_coil_of_a_name")]

    def __str__(self):
        return self.name

    def get_absolute_url(self):
        return reverse("equipment:coil", args=[self.pk])

    @property
    def pitch_m(self):
        """From turn to turn; None where the winding was not measured."""
        return self.length_m / self.turns if self.length_m and self.turns else None

    def inductance_h(self, turns=None):
        """Inductance of the whole coil, or of its first turns; None where the winding was not measured."""
        turns = self.turns if turns is None else turns
        if not (self.diameter_m and self.pitch_m and turns):
            return None
        return coils.inductance_h(self.diameter_m, self.pitch_m * turns, turns)

    def arrangements(self):
        """The arrangements of its antenna that name it."""
        return self.antenna.arrangements.filter(coil=self.name)

    def copy_to(self, antenna):
        """The same coil with its taps, on another antenna."""
        taps = list(self.taps.all())
        twin = type(self).objects.get(pk=self.pk)
        twin.pk, twin._state.adding, twin.antenna = None, True, antenna
        with transaction.atomic():
            twin.save()
            for tap in taps:
                tap.pk, tap._state.adding, tap.coil = None, True, twin
            CoilTap.objects.bulk_create(taps)
        return twin


class CoilTap(models.Model):
    """Where a coil was tapped for a band, with the whip that it was found with: with another whip it does not hold."""

    coil = models.ForeignKey(Coil, on_delete=models.CASCADE, related_name="taps")
    band = models.CharField(max_length=8)
    label = models.CharField("mark", max_length=40, blank=True)
    turns = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    inductance_h = models.FloatField("inductance", null=True, blank=True, validators=NOT_NEGATIVE)
    whip_length_m = models.FloatField("whip", validators=NOT_NEGATIVE)
    frequency_hz = models.FloatField("resonated at", null=True, blank=True, validators=NOT_NEGATIVE)
    found_on = models.DateField("found", null=True, blank=True)

    class Meta:
        verbose_name = "coil tap"
        ordering = ["id"]

    def __str__(self):
        return self.label or (f"{Numeral(self.turns):g} turns" if self.turns is not None else self.band)

    def holds_for(self, whip_length_m):
        """Whether it was found with a whip of this length; None where the length is not known."""
        return None if whip_length_m is None else abs(whip_length_m - self.whip_length_m) <= SAME_LENGTH_M
