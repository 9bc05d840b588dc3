"""Fair tests: a plan that switches between arrangements in short blocks, and the blocks as they really went."""

import datetime
import uuid

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction

from equipment.models import Arrangement, LivingManager, Owned, OwnedQuerySet, Recorded
from outings.evidence import switching

from .outings import Outing
from .stints import Stint, StintError

LONGEST_MIN = 24 * 60


class SwitchingPlan(Recorded):
    """Blocks of two or more arrangements in random or ABBA order; made once and not changed, since stints point to it.

    Minutes of a block are minutes on the air: what happens in between, set-up or an interruption, moves the rest of the
    plan on and shortens nothing.
    """

    class Order(models.TextChoices):
        RANDOM = "random", "random in each round"
        ABBA = "ABBA", "there and back (ABBA)"

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="switching_plans")
    minutes = models.FloatField("minutes at hand", validators=[MinValueValidator(1), MaxValueValidator(LONGEST_MIN)])
    block_min = models.FloatField("minutes of a block", validators=[MinValueValidator(1), MaxValueValidator(240)])
    change_min = models.FloatField("minutes to switch", validators=[MinValueValidator(0), MaxValueValidator(120)])
    order = models.CharField(max_length=6, choices=Order, default=Order.RANDOM)
    seed = models.PositiveIntegerField()
    ended_at = models.DateTimeField(null=True, blank=True)  # called off or through

    objects = LivingManager.from_queryset(OwnedQuerySet)()
    everything = OwnedQuerySet.as_manager()

    class Meta(Recorded.Meta):
        ordering = ["created_at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="switching_plan_uuid")]

    def __str__(self):
        return f"Fair test of {len({block.arrangement_id for block in self.blocks.all()})} arrangements"

    @transaction.atomic
    def make(self, actor, arrangements):
        """Keep it with its blocks. ValueError where not even one round fits."""
        by_key = {str(arrangement.pk): arrangement for arrangement in arrangements}
        planned = switching.plan(
            by_key, self.minutes, self.block_min, seed=self.seed, order=self.order, change_min=self.change_min
        )
        self.keep(actor, cause="fair test")
        SwitchingBlock.objects.bulk_create(
            SwitchingBlock(
                owner=self.owner, plan=self, number=number, round=block.pair, arrangement=by_key[block.arrangement],
                start_min=block.start_min, end_min=block.end_min,
            ) for number, block in enumerate(planned, 1)
        )

    def standing(self):
        """(block on the air or None, block that comes next or None) by the stints that were begun for its blocks."""
        blocks = list(self.blocks.prefetch_related("stints").select_related("arrangement__antenna"))
        used = [block for block in blocks if block.stints.all()]
        running = next((block for block in used if any(stint.running for stint in block.stints.all())), None)
        last = max((block.number for block in used), default=0)
        coming = next((block for block in blocks if block.number > last), None)
        return running, None if self.ended_at else coming

    @transaction.atomic
    def begin(self, actor, block, at, *, identity=None):
        """Put a block's arrangement on the air: what runs ends there, all else of the last stint is carried on.

        The minutes since the block before ended are noted as set-up. StintError where nothing was on the air at this
        outing yet, or the moment lies before the end of the last stint.
        """
        if block.plan_id != self.pk or self.ended_at:
            raise StintError("This block belongs to no test that goes on.")
        last = Stint.objects.filter(outing_id=self.outing_id).order_by("-started_at", "-id").first()
        if last is None:
            raise StintError("Go on the air once first, with band, mode and radio; the test takes these over.")
        changes = {"arrangement": block.arrangement, "block": block, "setup_min": None, "takedown_min": None}
        if last.running:
            return last.follow_with(actor, at, identity=identity, **changes)
        if at < last.ended_at:
            raise StintError(f"The stint before ended at {last.ended_at:%H:%M:%S} UTC; this block must begin later.")
        carried = {name: getattr(last, name) for name in Stint.CARRIED}
        gap_min = (at - last.ended_at).total_seconds() / 60
        if last.block_id and gap_min <= LONGEST_MIN:
            changes["setup_min"] = round(gap_min, 1)
        stint = Stint(owner=self.owner, outing=self.outing, follows=last, **carried | changes)
        if identity:
            stint.uuid = identity
        stint.begin(actor, at)
        return stint

    def end(self, actor, at):
        """Call it off, or close it after the last block; what was done counts all the same."""
        self.ended_at = at
        self.keep(actor, cause="fair test ended")


class SwitchingBlock(Owned):
    """One block of a plan: its arrangement, its minutes as planned, and the stints in which it was really used."""

    plan = models.ForeignKey(SwitchingPlan, on_delete=models.CASCADE, related_name="blocks")
    uuid = models.UUIDField(default=uuid.uuid4, editable=False)
    number = models.PositiveSmallIntegerField()
    round = models.PositiveSmallIntegerField()  # blocks of one round are compared with each other
    arrangement = models.ForeignKey(Arrangement, on_delete=models.PROTECT, related_name="+")
    start_min = models.FloatField()
    end_min = models.FloatField()

    class Meta:
        ordering = ["plan_id", "number"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "number"], name="block_number"),
            models.UniqueConstraint(fields=["owner", "uuid"], name="block_uuid"),
        ]

    def __str__(self):
        return f"block {self.number}, {self.arrangement}"

    @property
    def pair(self):
        """What blocks are compared with each other: those of one round of one plan."""
        return f"{self.plan_id}/{self.round}"

    @property
    def on_air(self):
        """How long it is to be on the air."""
        return datetime.timedelta(minutes=self.end_min - self.start_min)
