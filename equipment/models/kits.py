"""Kits: which gear goes along together."""

from django.core.validators import MinValueValidator
from django.db import models

from .history import Owned
from .items import Arrangement, Item


class Kit(Owned):
    """A set of gear that is carried together, with the arrangements meant to be put up."""

    name = models.CharField(max_length=80)
    notes = models.TextField(blank=True)
    retired_on = models.DateField("retired", null=True, blank=True)
    arrangements = models.ManyToManyField(Arrangement, blank=True, related_name="kits")

    class Meta:
        ordering = ["name", "id"]

    def __str__(self):
        return self.name


class KitItem(models.Model):
    """A piece of gear in a kit, and how many of it."""

    kit = models.ForeignKey(Kit, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="kit_lines")
    quantity = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "id"]
        constraints = [models.UniqueConstraint(fields=["kit", "item"], name="once_in_a_kit")]

    def __str__(self):
        return f"{self.quantity} × {self.item}"
