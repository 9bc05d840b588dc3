"""Pages that an operator shows to everybody who has their address."""

import contextlib
import secrets

from django.db import DatabaseError, models
from django.urls import reverse
from django.utils import timezone

from equipment.models import Antenna, Arrangement, Item, Kit, Owned, OwnedQuerySet, Pack, Radio

from .notes import Note
from .outings import Outing
from .sites import Site

COLUMNS = ("outing", "arrangement", "item", "kit", "site", "note")  # one of which says what is shown


def a_token():
    """32 bytes by chance, which nobody guesses."""
    return secrets.token_urlsafe(32)


class SharedPageQuerySet(OwnedQuerySet):
    """Pages that are shown to others."""

    def open(self):
        """Those that were not withdrawn, of what was not deleted and of accounts that are not closed."""
        return self.filter(withdrawn_at=None, outing__deleted_at=None, note__deleted_at=None, owner__is_active=True)

    def showing(self, kind, thing):
        """Those that show one thing."""
        return self.filter(**{SharedPage.KINDS[kind][1]: thing})

    def with_things(self):
        """With what they show, in one query."""
        kinds = (f"item__{kind}" for kind, (_, column) in SharedPage.KINDS.items() if column == "item")
        return self.select_related(
            "owner", *COLUMNS, *kinds, "outing__site", "outing__kit", "arrangement__antenna"
        )


class SharedPage(Owned):
    """One thing behind an address that works without an account until it is withdrawn; it goes with the thing."""

    class Position(models.TextChoices):
        GRID_4 = "grid_4", "four characters of the grid, a square of 1° by 2°"
        GRID_6 = "grid_6", "six characters of the grid, a square of 2.5′ by 5′"
        EXACT = "exact", "coordinates, as well as they are known"

    KINDS = {  # what can be shown: its model, and the column that holds it
        "outing": (Outing, "outing"), "arrangement": (Arrangement, "arrangement"), "antenna": (Antenna, "item"),
        "radio": (Radio, "item"), "pack": (Pack, "item"), "kit": (Kit, "kit"), "site": (Site, "site"),
        "note": (Note, "note"),
    }

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, null=True, related_name="shared_pages")
    arrangement = models.ForeignKey(Arrangement, on_delete=models.CASCADE, null=True, related_name="shared_pages")
    item = models.ForeignKey(Item, on_delete=models.CASCADE, null=True, related_name="shared_pages")
    kit = models.ForeignKey(Kit, on_delete=models.CASCADE, null=True, related_name="shared_pages")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, null=True, related_name="shared_pages")
    note = models.ForeignKey(Note, on_delete=models.CASCADE, null=True, related_name="shared_pages")
    token = models.CharField(max_length=43, unique=True, default=a_token, editable=False)
    with_notes = models.BooleanField("with my notes", default=False)
    position = models.CharField(max_length=6, choices=Position, default=Position.GRID_6)  # of a site
    shared_at = models.DateTimeField(default=timezone.now, editable=False)
    withdrawn_at = models.DateTimeField(null=True, blank=True, editable=False)
    opened = models.PositiveIntegerField(default=0, editable=False)  # how often, by others than its owner
    opened_at = models.DateTimeField(null=True, blank=True, editable=False)  # the last time

    objects = SharedPageQuerySet.as_manager()

    class Meta:
        ordering = ["-shared_at", "-id"]
        constraints = [
            models.CheckConstraint(
                name="shows_one_thing",
                condition=models.Q(
                    *(models.Q(**{f"{other}__isnull": other != column for other in COLUMNS}) for column in COLUMNS),
                    _connector=models.Q.OR,
                ),
            ),
        ]

    def __str__(self):
        return f"{self.thing}, shared {self.shared_at:%Y-%m-%d}"

    def get_absolute_url(self):
        return reverse("outings:shared", args=[self.token])

    @property
    def kind(self):
        """A key of KINDS."""
        if self.item_id:
            return str(self.item.kind)
        return next(column for column in COLUMNS if getattr(self, f"{column}_id"))

    @property
    def thing(self):
        """What is shown."""
        return self.item.as_kind() if self.item_id else getattr(self, self.kind)

    @property
    def hides_whereabouts(self):
        """Whether the site is only to be known to a square of four characters."""
        return self.position == self.Position.GRID_4

    def withdraw(self, now):
        """From now on the address leads nowhere."""
        self.withdrawn_at = now
        self.save(update_fields=["withdrawn_at"])

    def was_opened(self, now):
        """Count that somebody looked."""
        with contextlib.suppress(DatabaseError):  # a disk that takes nothing more can still be read
            SharedPage.objects.filter(pk=self.pk).update(opened=models.F("opened") + 1, opened_at=now)
