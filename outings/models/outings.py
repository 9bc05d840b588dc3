"""Outings: one trip to one site, planned and as it happened, with its members, pictures and checklist."""

import uuid

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models, transaction
from django.urls import reverse
from django.utils import timezone

from equipment.models import Arrangement, Change, Item, Kit, LivingManager, Owned, OwnedQuerySet, Recorded

from .sites import LONGEST_TEXT, Site, reference_text


class OutingQuerySet(OwnedQuerySet):
    """Trips, planned or done."""

    def open_to(self, operator):
        """Outings that the operator owns or was invited to and joined."""
        joined = OutingMember.objects.filter(operator=operator, joined_at__isnull=False).values("outing")
        return self.filter(models.Q(owner=operator) | models.Q(pk__in=joined))

    def upcoming(self, now):
        """Not over yet, the next one first; without an end, the start counts."""
        over = models.Q(window_end__lt=now) | models.Q(window_end=None, window_start__lt=now)
        return self.exclude(over).order_by("window_start", "id")

    def past(self, now):
        """Over, the last one first."""
        over = models.Q(window_end__lt=now) | models.Q(window_end=None, window_start__lt=now)
        return self.filter(over).order_by("-window_start", "-id")

    def contested(self):
        """Those from which phones handed in what met another change and waits to be settled, counted as `contested`."""
        waiting = self.filter(field_entries__outcome="conflict", field_entries__settled_at__isnull=True)
        return waiting.annotate(contested=models.Count("field_entries"))

    def deleted(self):
        """Those that can be brought back, of `everything`."""
        return self.filter(deleted_at__isnull=False).order_by("-deleted_at", "-id")


class Outing(Recorded):
    """One trip to one site, with a kit, a planned window and what really happened."""

    class Exchange(models.TextChoices):
        REPORT = "report", "report only"
        LOCATION = "location", "report and state, province or country"
        SERIAL = "serial", "report and serial number"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="outings")
    title = models.CharField(max_length=80, blank=True)
    station_call = models.CharField("call sign used on the air", max_length=30)
    references = models.JSONField(default=list, blank=True)  # as on Site; several at once where areas overlap
    window_start = models.DateTimeField()
    window_end = models.DateTimeField(null=True, blank=True)
    started_at = models.DateTimeField("arrived", null=True, blank=True)
    ended_at = models.DateTimeField("left", null=True, blank=True)
    announced_at = models.DateTimeField("announced to others", null=True, blank=True)
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, null=True, blank=True, related_name="outings")
    bands = models.JSONField(default=list, blank=True)  # ["40m", "20m"]
    goal_contacts = models.PositiveIntegerField("goal", null=True, blank=True)
    exchange = models.CharField(max_length=8, choices=Exchange, default=Exchange.REPORT)
    exchange_text = models.CharField("what is given", max_length=40, blank=True)
    solar_flux = models.FloatField("solar flux", null=True, blank=True, validators=[MinValueValidator(0)])
    a_index = models.FloatField("A index", null=True, blank=True, validators=[MinValueValidator(0)])
    k_index = models.FloatField("K index", null=True, blank=True, validators=[MinValueValidator(0)])
    conditions = models.TextField("notes on conditions", blank=True, max_length=LONGEST_TEXT)
    notes = models.TextField(blank=True, max_length=LONGEST_TEXT)
    imported_by = models.ForeignKey(
        "outings.ImportedFile", on_delete=models.SET_NULL, null=True, blank=True, related_name="outings", editable=False
    )

    objects = LivingManager.from_queryset(OutingQuerySet)()
    everything = OutingQuerySet.as_manager()

    class Meta(Recorded.Meta):
        ordering = ["-window_start", "-id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="outing_uuid")]
        indexes = [models.Index(fields=["owner", "-window_start"], name="outing_owner_start")]

    def __str__(self):
        return self.title or f"{self.site} {self.window_start:%Y-%m-%d}"

    def get_absolute_url(self):
        return reverse("outings:plan", args=[self.pk])

    @property
    def reference_texts(self):
        """The references as lines of text: programme and reference."""
        return [reference_text(pair) for pair in self.references]

    @property
    def ends_at(self):
        """The end of the window; where none was planned, when it was left, else its start."""
        return max(self.window_start, self.window_end or self.ended_at or self.window_start)

    def gear_at(self, kind):
        """The keys of gear (a radio, an arrangement, a pack) that is in its kit or was on the air there."""
        keys = set(self.stints.values_list(kind, flat=True))
        if self.kit_id is None:
            return keys
        items = self.kit.lines.values_list("item", flat=True)
        if kind != "arrangement":
            return keys.union(items)
        put_up = set(self.kit.arrangements.values_list("pk", flat=True))
        return keys | (put_up or set(Arrangement.objects.filter(antenna__in=items).values_list("pk", flat=True)))

    def withdraw_whole(self, actor):
        """Delete with a trace, and with it its stints, contacts and checklist, in one batch of the history."""
        batch, now = uuid.uuid4(), timezone.now()
        with transaction.atomic():
            self.withdraw(actor, batch=batch)
            for related in (self.stints, self.contacts, self.checklist):
                rows = list(related(manager="objects").all())
                for row in rows:
                    row.deleted_at = now
                if rows:
                    type(rows[0]).keep_all(rows, actor, cause="delete", batch=batch)

    def bring_back_whole(self, actor):
        """Undo `withdraw_whole`; raises CannotTakeBack where something of it was changed since."""
        deletion = self.history().filter(action=Change.Action.DELETE).first()
        if deletion is None:
            self.bring_back(actor)
        else:
            deletion.take_back_batch(actor)


class OutingMemberQuerySet(models.QuerySet):
    """Operators at the outings of others."""

    def of(self, operator):
        """The invitations of an operator, answered or not, to outings that were not deleted."""
        return self.filter(operator=operator, outing__deleted_at=None)

    def joined(self):
        return self.filter(joined_at__isnull=False)


class OutingMember(models.Model):
    """Another operator at an outing: invited by its owner, there once joined."""

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="members")
    operator = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    invited_at = models.DateTimeField(default=timezone.now, editable=False)
    joined_at = models.DateTimeField(null=True, blank=True)

    objects = OutingMemberQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["outing", "operator"], name="once_a_member")]

    def __str__(self):
        return f"{self.operator} at {self.outing}"

    def join(self, now):
        """Accept the invitation: from now on the operator logs at this outing."""
        if self.joined_at is None:
            self.joined_at = now
            self.save(update_fields=["joined_at"])


def outing_picture_path(picture, filename):
    """Where a picture of an outing is stored; the name is ours."""
    return f"pictures/{picture.outing.owner_id}/{uuid.uuid4().hex}.jpg"


class OutingPicture(models.Model):
    """A picture of the set-up."""

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="pictures")
    picture = models.ImageField(upload_to=outing_picture_path)
    caption = models.CharField(max_length=120, blank=True)
    added_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["id"]

    def __str__(self):
        return self.caption or "picture"

    def discard(self):
        """Delete it and its file, the file once the row is surely gone."""
        with transaction.atomic():
            self.delete()
            transaction.on_commit(lambda: self.picture.storage.delete(self.picture.name))


class StandingLineQuerySet(OwnedQuerySet):
    """Lines that checklists begin with."""

    def in_order(self):
        """As the day goes: before leaving home, to pack, on arrival, before leaving the site."""
        turns = [models.When(section=value, then=turn) for turn, value in enumerate(StandingLine.Section.values)]
        return self.order_by(models.Case(*turns, output_field=models.IntegerField()), "position", "id")


class StandingLine(Owned):
    """A line that every new checklist begins with."""

    class Section(models.TextChoices):
        BEFORE = "before", "before leaving home"
        PACK = "pack", "to pack"
        ARRIVAL = "arrival", "on arrival"
        LEAVING = "leaving", "before leaving the site"

    text = models.CharField(max_length=160)
    section = models.CharField(max_length=8, choices=Section, default=Section.PACK)
    position = models.PositiveSmallIntegerField(default=0)

    objects = StandingLineQuerySet.as_manager()

    class Meta:
        ordering = ["section", "position", "id"]

    def __str__(self):
        return self.text


class ChecklistLine(Recorded):
    """One line of an outing's checklist, and when it was ticked."""

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="checklist")
    text = models.CharField(max_length=160)
    section = models.CharField(max_length=8, choices=StandingLine.Section, default=StandingLine.Section.PACK)
    position = models.PositiveSmallIntegerField(default=0)
    quantity = models.PositiveSmallIntegerField(default=1)
    item = models.ForeignKey(Item, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    standing = models.ForeignKey(StandingLine, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    ticked_at = models.DateTimeField(null=True, blank=True)

    class Meta(Recorded.Meta):
        ordering = ["section", "position", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="checklist_uuid")]

    def __str__(self):
        return self.text

    def tick(self, actor, *, on):
        """Tick the line or take the tick off; a second tick keeps the time of the first."""
        if bool(self.ticked_at) != on:
            self.ticked_at = timezone.now() if on else None
            self.keep(actor, cause="tick" if on else "untick")

    @transaction.atomic
    def move(self, actor, *, up):
        """Change places with the line above or below in its section; at the end of a section nothing moves."""
        section = ChecklistLine.objects.filter(outing=self.outing_id, section=self.section)
        lines = list(section.order_by("position", "id"))
        place = lines.index(self)
        other = place - 1 if up else place + 1
        if not 0 <= other < len(lines):
            return
        lines[place], lines[other] = lines[other], lines[place]
        for position, line in enumerate(lines):
            line.position = position
        ChecklistLine.keep_all(lines, actor, cause="order", batch=uuid.uuid4())
