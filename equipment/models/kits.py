"""Kits: which gear goes along together."""

from django.core.validators import MinValueValidator
from django.db import models, transaction
from django.urls import reverse

from .items import Arrangement, Item, copied_name
from .retiring import Retirable, RetirableQuerySet


class KitQuerySet(RetirableQuerySet):
    """Kits."""

    def with_item(self, item):
        """Kits that a piece of gear goes along in, itself or through one of its arrangements."""
        return self.filter(models.Q(lines__item=item.pk) | models.Q(arrangements__antenna=item.pk)).distinct()


class Kit(Retirable):
    """A set of gear that is carried together, with the arrangements meant to be put up."""

    name = models.CharField(max_length=80)
    notes = models.TextField(blank=True)
    arrangements = models.ManyToManyField(Arrangement, blank=True, related_name="kits")

    objects = KitQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]

    def __str__(self):
        return self.name

    def get_absolute_url(self):
        return reverse("equipment:kit", args=[self.pk])

    def copy(self):
        """The same kit again, with its items and arrangements, in use."""
        with transaction.atomic():
            twin = Kit.objects.create(owner_id=self.owner_id, name=copied_name(self), notes=self.notes)
            KitItem.objects.bulk_create(
                KitItem(kit=twin, item_id=line.item_id, quantity=line.quantity, position=line.position)
                for line in self.lines.all()
            )
            twin.arrangements.set(self.arrangements.all())
        return twin


class KitItem(models.Model):
    """A piece of gear in a kit, and how many of it."""

    kit = models.ForeignKey(Kit, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="kit_lines")
    quantity = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        verbose_name = "place in a kit"
        verbose_name_plural = "places in kits"
        ordering = ["position", "id"]
        constraints = [models.UniqueConstraint(fields=["kit", "item"], name="once_in_a_kit")]

    def __str__(self):
        return f"{self.quantity} × {self.item}"
