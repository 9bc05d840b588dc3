"""Gear that is retired rather than deleted, so that the log keeps knowing it."""

from django.db import models

from .history import Owned, OwnedQuerySet


class RetirableQuerySet(OwnedQuerySet):
    """Rows that are in use or retired."""

    def in_use(self):
        return self.filter(retired_on__isnull=True)

    def retired(self):
        return self.filter(retired_on__isnull=False)


class Retirable(Owned):
    """A row that can be taken out of use, and back into it."""

    retired_on = models.DateField("retired", null=True, blank=True)

    objects = RetirableQuerySet.as_manager()

    class Meta:
        abstract = True

    @property
    def is_retired(self):
        return self.retired_on is not None

    def retire(self, day):
        """Take it out of use from this day on; one that is retired already keeps its day."""
        if self.retired_on is None:
            self.retired_on = day
            self.save(update_fields=["retired_on"])

    def take_back(self):
        """Take it into use again."""
        self.retired_on = None
        self.save(update_fields=["retired_on"])
