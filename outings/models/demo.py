"""What the demo scenario put into a log, so that exactly that can be taken out again."""

from django.db import models
from django.utils import timezone

from equipment.models import Owned


class DemoScenario(Owned):
    """The demo scenario in one operator's log: which rows it made."""

    loaded_at = models.DateTimeField(default=timezone.now, editable=False)
    rows = models.JSONField(default=dict)  # {"outings.contact": [primary key, ...], ...}

    class Meta:
        constraints = [models.UniqueConstraint(fields=["owner"], name="one_demo_a_log")]

    def __str__(self):
        return f"demo scenario of {self.loaded_at:%Y-%m-%d}"
