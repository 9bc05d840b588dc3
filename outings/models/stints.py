"""Stints: stretches of on-air time with one radio, arrangement, source, power, band and mode."""

import datetime
import uuid

from django.core.validators import MinValueValidator
from django.db import models, transaction

from equipment.models import Arrangement, LivingManager, OwnedQuerySet, Pack, Radio, Recorded
from outings import dial, windows
from outings.adif import tables

from .outings import Outing

SECOND = datetime.timedelta(microseconds=999_999)  # what is not known of a time given to the second
MINUTE = datetime.timedelta(seconds=59) + SECOND


class StintError(ValueError):
    """What was asked of a stint cannot be; the message says why."""


class StintQuerySet(OwnedQuerySet):
    """Stretches of on-air time."""

    def running(self):
        return self.filter(ended_at__isnull=True)

    def recorded(self):
        """Leave out those whose time was inferred from imported contacts."""
        return self.filter(inferred=False)

    def begun_between(self, since=None, until=None):
        """Those that began on a UTC day from `since` to `until`; None leaves an end open."""
        stints = self
        if since:
            stints = stints.filter(started_at__gte=datetime.datetime.combine(since, datetime.time(), datetime.UTC))
        if until:
            end = datetime.datetime.combine(until, datetime.time(), datetime.UTC) + datetime.timedelta(days=1)
            stints = stints.filter(started_at__lt=end)
        return stints

    def of_family(self, family):
        """Morse ("cw"), voice ("phone") or everything else ("data"); those without a mode are in none."""
        if family == "cw":
            return self.filter(mode__in=("CW", "PCW"))
        if family == "phone":
            return self.filter(mode__in=tables.PHONE_MODES)
        return self.exclude(mode__in=("", "CW", "PCW", *tables.PHONE_MODES))

    def overlapping(self, start, end=None):
        """Stints that share time with a stretch; one without an end runs on."""
        overlap = self.filter(models.Q(ended_at__isnull=True) | models.Q(ended_at__gt=start))
        return overlap.filter(started_at__lt=end) if end else overlap


class Stint(Recorded):
    """A stretch of on-air time; pauses are not on-air time, every rate is contacts over stint hours.

    What happens to a stint is a method here: begin, pause, resume, follow_with, move_boundary, stop, correct, withdraw.
    Each keeps `on_air_s` right, lets the contacts follow, and writes the history; the time is always handed in.
    """

    class Calling(models.TextChoices):
        CALLING = "calling", "calling"
        ANSWERING = "answering", "answering"
        BOTH = "both", "both"

    outing = models.ForeignKey(
        Outing, on_delete=models.CASCADE, related_name="stints", db_index=False
    )  # the index stint_outing_start begins with it
    follows = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="followers", editable=False,
        db_index=False,
    )  # the stint that this one took over from, with the same radio
    radio = models.ForeignKey(Radio, on_delete=models.PROTECT, null=True, blank=True, related_name="stints")
    arrangement = models.ForeignKey(Arrangement, on_delete=models.PROTECT, null=True, blank=True, related_name="stints")
    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, null=True, blank=True, related_name="stints")
    other_source = models.CharField(max_length=40, blank=True)  # mains, solar panel, the pack inside the radio
    power_w = models.FloatField("power", null=True, blank=True, validators=[MinValueValidator(0)])
    band = models.CharField(max_length=8, blank=True)  # empty where a frequency lies in no band of the standard
    frequency_hz = models.BigIntegerField("frequency", null=True, blank=True, validators=[MinValueValidator(0)])
    mode = models.CharField(max_length=20)
    submode = models.CharField(max_length=20, blank=True)
    tuner_in = models.BooleanField("tuner in line", null=True, blank=True)
    calling = models.CharField(max_length=9, choices=Calling, blank=True)
    block = models.ForeignKey(
        "outings.SwitchingBlock", on_delete=models.SET_NULL, null=True, blank=True, related_name="stints",
        editable=False,
    )  # of the fair test that it belongs to
    swr_at_radio = models.FloatField("SWR at the radio", null=True, blank=True, validators=[MinValueValidator(1)])
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    on_air_s = models.PositiveIntegerField(null=True, blank=True, editable=False)  # without pauses; None while running
    setup_min = models.FloatField("set-up minutes", null=True, blank=True, validators=[MinValueValidator(0)])
    takedown_min = models.FloatField("take-down minutes", null=True, blank=True, validators=[MinValueValidator(0)])
    note = models.CharField(max_length=200, blank=True)
    inferred = models.BooleanField(default=False, editable=False)
    inferred_rule = models.CharField(max_length=200, blank=True, editable=False)
    imported_by = models.ForeignKey(
        "outings.ImportedFile", on_delete=models.SET_NULL, null=True, blank=True, related_name="stints", editable=False,
        db_index=False,
    )

    objects = LivingManager.from_queryset(StintQuerySet)()
    everything = StintQuerySet.as_manager()

    # What the next stint takes over from the one before unless it is changed.
    CARRIED = (
        "radio", "arrangement", "pack", "other_source", "power_w", "band", "frequency_hz", "mode", "submode",
        "tuner_in", "calling", "swr_at_radio",
    )

    class Meta(Recorded.Meta):
        ordering = ["started_at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="stint_uuid")]
        indexes = [
            models.Index(fields=["outing", "started_at"], name="stint_outing_start"),
            models.Index(fields=["owner", "started_at"], name="stint_owner_start"),
        ]

    def __str__(self):
        return f"{self.band} {self.submode or self.mode} {self.started_at:%H:%M}".strip()

    @property
    def label(self):
        """What tells it from the others of its outing in a list: 13:05 20m USB, 5 W, whip 5.2 m."""
        parts = [f"{self.started_at:%H:%M} {self.band or 'out of band'} {self.submode or self.mode}"]
        if self.power_w is not None:
            parts.append(f"{dial.power_text(self.power_w)} W".replace("mW W", "mW"))
        if self.radio:
            parts.append(str(self.radio))
        if self.arrangement:
            parts.append(str(self.arrangement))
        return ", ".join(parts)

    @property
    def running(self):
        return self.ended_at is None

    @property
    def open_pause(self):
        """The pause that it is in, None while it is on the air or over."""
        return next((pause for pause in self.pauses.all() if pause.ended_at is None), None) if self.running else None

    def seconds_on_air(self, until=None):
        """Seconds from its start to its end (while it runs: to `until`) without its pauses; None without an end."""
        end = self.ended_at or until
        if end is None:
            return None
        return round(sum((stop - start).total_seconds() for start, stop in self.stretches(end)))

    def stretches(self, end):
        """The stretches from its start to a moment between its pauses, as pairs of moments."""
        pauses = sorted(self.pauses.all(), key=lambda pause: pause.started_at)
        return windows.between_pauses(self.started_at, end, [(one.started_at, one.ended_at) for one in pauses])

    def covers(self, contact):
        """Whether a contact lies within it; a time is anywhere within its second, or within its minute without one."""
        latest = contact.started_at
        if not latest.microsecond:
            latest += SECOND if contact.seconds_known else MINUTE
        return self.started_at <= latest and (self.ended_at is None or contact.started_at <= self.ended_at)

    def suits(self, contact):
        """Whether band and mode are those of a contact, as far as both are known."""
        if contact.band and self.band and contact.band != self.band:
            return False
        if contact.mode and contact.mode != self.mode:
            return False
        spoken = self.mode == "SSB"  # upper and lower sideband are one way of talking
        return spoken or not (contact.submode and self.submode) or contact.submode == self.submode

    def keep(self, actor, *, cause="edit", batch=None):
        """Save with the history, `on_air_s` brought up to date."""
        self._forget_pauses()
        if self.running:
            self.on_air_s = None
        elif self.pk:
            self.on_air_s = self.seconds_on_air()
        else:
            self.on_air_s = round((self.ended_at - self.started_at).total_seconds())
        return super().keep(actor, cause=cause, batch=batch)

    @transaction.atomic
    def begin(self, actor, at, *, batch=None):
        """Go on the air at a moment."""
        self._refuse_second_use_of_the_radio(actor, at)
        self.started_at, self.ended_at = at, None
        self.keep(actor, cause="begin", batch=batch)

    @transaction.atomic
    def add(self, actor, *, batch=None):
        """Enter a whole stint afterwards; contacts without a stint that it covers join it."""
        self._refuse_empty_stretch()
        self._refuse_second_use_of_the_radio(actor, self.started_at, self.ended_at)
        batch = batch or uuid.uuid4()
        self.keep(actor, cause="add", batch=batch)
        self._adopt(actor, batch)

    @transaction.atomic
    def pause(self, actor, at):
        """Leave the air for a while, from a moment on."""
        self._refuse_unless_running()
        if self.open_pause:
            raise StintError("It is paused already.")
        if at < self.started_at:
            raise StintError(f"The pause cannot begin before the stint, {self.started_at:%H:%M:%S} UTC.")
        last = self.pauses.order_by("-ended_at").first()
        if last and at < last.ended_at:
            raise StintError(f"The last pause went on until {last.ended_at:%H:%M:%S} UTC.")
        Pause(owner=self.owner, stint=self, started_at=at).keep(actor, cause="pause")
        self._forget_pauses()

    @transaction.atomic
    def resume(self, actor, at):
        """Come back on the air at a moment."""
        self._refuse_unless_running()
        pause = self.open_pause
        if not pause:
            raise StintError("It is not paused.")
        if at < pause.started_at:
            raise StintError(f"The pause began only at {pause.started_at:%H:%M:%S} UTC.")
        pause.ended_at = at
        pause.keep(actor, cause="resume")
        self._forget_pauses()

    @transaction.atomic
    def stop(self, actor, at):
        """Leave the air for good; contacts after that moment lose the stint unless another covers them."""
        self._refuse_unless_running()
        if at <= self.started_at:
            raise StintError(f"It cannot stop before it began, {self.started_at:%H:%M:%S} UTC.")
        batch = uuid.uuid4()
        self.ended_at = at
        self._cut_pauses(actor, batch)
        self.keep(actor, cause="stop", batch=batch)
        self._settle_contacts(actor, batch)

    @transaction.atomic
    def follow_with(self, actor, at, *, identity=None, **changes):
        """End it at a moment and begin the next at that second, which takes over all that is not changed.

        Its pauses and contacts from then on go with the next stint, which is returned. `identity` is the UUID of the
        next stint where it was made by the page, so that a repeated request changes nothing twice.
        """
        self._refuse_unless_running()
        if at <= self.started_at:
            raise StintError(f"The change cannot be before the stint began, {self.started_at:%H:%M:%S} UTC.")
        batch = uuid.uuid4()
        carried = {name: getattr(self, name) for name in self.CARRIED}
        if changes.get("arrangement", self.arrangement) == self.arrangement:
            carried["block"] = self.block  # with another arrangement it is no longer what the fair test asked for
        following = Stint(owner=self.owner, outing=self.outing, follows=self, started_at=at, **carried | changes)
        if identity:
            following.uuid = identity
        if following.radio_id != self.radio_id:
            following._refuse_second_use_of_the_radio(actor, at)
        self.ended_at = at
        self.keep(actor, cause="change", batch=batch)
        following.keep(actor, cause="change", batch=batch)
        self._hand_over(following, at, actor, batch)
        return following

    @property
    def predecessor(self):
        """The stint that it took over from at its very start, None where there is none or a gap between."""
        before = self.follows
        meets = before and before.outing_id == self.outing_id and before.ended_at == self.started_at
        return before if meets and not before.deleted_at else None

    @transaction.atomic
    def move_boundary(self, actor, at):
        """Move its start, and with it the end of the stint before; pauses and contacts in between change sides."""
        before, end = self.predecessor, self.ended_at
        if end and at >= end:
            raise StintError(f"The stint ended at {end:%H:%M:%S} UTC; it must begin before.")
        if before and at <= before.started_at:
            raise StintError(f"The stint before began at {before.started_at:%H:%M:%S} UTC; this one must begin later.")
        batch = uuid.uuid4()
        earlier, self.started_at = at < self.started_at, at
        if not before:
            self._refuse_second_use_of_the_radio(actor, at, end)
            self.keep(actor, cause="move", batch=batch)
            self._settle_contacts(actor, batch)
            self._adopt(actor, batch)
            return
        before.ended_at = at
        before.keep(actor, cause="move", batch=batch)
        self.keep(actor, cause="move", batch=batch)
        if earlier:
            before._hand_over(self, at, actor, batch)
        else:
            self._hand_back(before, at, actor, batch)

    @transaction.atomic
    def correct(self, actor):
        """Keep what was edited: contacts follow in what they took over from it, and settle anew where times moved."""
        self._refuse_empty_stretch()
        self._refuse_second_use_of_the_radio(actor, self.started_at, self.ended_at)
        stored = Stint.everything.get(pk=self.pk)
        batch = uuid.uuid4()
        if not self.running:
            self._cut_pauses(actor, batch)
        self.keep(actor, batch=batch)
        contacts = list(self.contacts.all())
        for contact in contacts:
            contact.take_over(self, instead_of=stored)
        self._keep_contacts(contacts, actor, "stint edited", batch)
        self._settle_contacts(actor, batch)
        self._adopt(actor, batch)

    @transaction.atomic
    def withdraw(self, actor, *, cause="delete", batch=None):
        """Delete with a trace; its contacts stay, in another stint that covers them or in none."""
        batch = batch or uuid.uuid4()
        change = super().withdraw(actor, cause=cause, batch=batch)
        self._settle(list(self.contacts.all()), actor, "stint deleted", batch)
        return change

    @transaction.atomic
    def bring_back(self, actor, *, cause="restore", batch=None):
        """Undo a deletion; contacts without a stint that it covers join it."""
        batch = batch or uuid.uuid4()
        change = super().bring_back(actor, cause=cause, batch=batch)
        self._adopt(actor, batch)
        return change

    def _refuse_unless_running(self):
        if not self.running:
            raise StintError(f"It ended at {self.ended_at:%H:%M:%S} UTC.")

    def _refuse_empty_stretch(self):
        if self.ended_at and self.ended_at <= self.started_at:
            raise StintError("The end must be later than the start.")

    def _refuse_second_use_of_the_radio(self, actor, start, end=None):
        """One radio is on the air once at a time, or its hours would count twice."""
        if not self.radio_id:
            return
        others = Stint.objects.of(self.owner_id).filter(radio=self.radio_id).exclude(pk=self.pk)
        other = others.overlapping(start, end).first()
        if other and other.outing_id != self.outing_id and actor.pk != self.owner_id:
            raise StintError(f"{self.radio} is on the air at another outing at that time.")  # which is not for a member
        if other:
            until = f"until {other.ended_at:%H:%M:%S}" if other.ended_at else "on"
            raise StintError(
                f"{self.radio} is on the air already from {other.started_at:%Y-%m-%d %H:%M:%S} {until} UTC, "
                f"on {other.band} {other.submode or other.mode}. Change or stop that stint."
            )

    def _forget_pauses(self):
        getattr(self, "_prefetched_objects_cache", {}).pop("pauses", None)

    def _cut_pauses(self, actor, batch):
        """End pauses with the stint, and drop those that would begin after it."""
        for pause in Pause.objects.filter(stint=self):
            if pause.started_at >= self.ended_at:
                pause.withdraw(actor, cause="stop", batch=batch)
            elif pause.ended_at is None or pause.ended_at > self.ended_at:
                pause.ended_at = self.ended_at
                pause.keep(actor, cause="stop", batch=batch)
        self._forget_pauses()

    def _hand_over(self, following, at, actor, batch):
        """Give pauses and contacts from a moment on to the stint that follows."""
        for pause in Pause.objects.filter(stint=self):
            if pause.started_at >= at:
                pause.stint = following
                pause.keep(actor, cause="move", batch=batch)
            elif pause.ended_at is None or pause.ended_at > at:
                rest = Pause(owner=self.owner, stint=following, started_at=at, ended_at=pause.ended_at)
                pause.ended_at = at
                pause.keep(actor, cause="move", batch=batch)
                rest.keep(actor, cause="move", batch=batch)
        self._move_contacts(self.contacts.filter(started_at__gte=at), following, actor, batch)
        self._count_again(following, actor, batch)

    def _hand_back(self, before, at, actor, batch):
        """Give pauses and contacts up to a moment back to the stint before."""
        for pause in Pause.objects.filter(stint=self):
            if pause.ended_at and pause.ended_at <= at:
                pause.stint = before
                pause.keep(actor, cause="move", batch=batch)
            elif pause.started_at < at:
                Pause(owner=self.owner, stint=before, started_at=pause.started_at, ended_at=at).keep(
                    actor, cause="move", batch=batch
                )
                pause.started_at = at
                pause.keep(actor, cause="move", batch=batch)
        self._move_contacts(self.contacts.filter(started_at__lt=at), before, actor, batch)
        self._count_again(before, actor, batch)

    def _move_contacts(self, contacts, other, actor, batch):
        contacts = list(contacts)
        for contact in contacts:
            contact.take_over(other, instead_of=self)
        self._keep_contacts(contacts, actor, "boundary moved", batch)

    def _count_again(self, other, actor, batch):
        """Bring the on-air time of both up to date after pauses changed sides."""
        for stint in (self, other):
            stint.keep(actor, cause="move", batch=batch)

    def _settle_contacts(self, actor, batch):
        """Contacts that it no longer covers find another stint, or have none."""
        self._settle([c for c in self.contacts.all() if not self.covers(c)], actor, "stint moved", batch)

    def _settle(self, contacts, actor, cause, batch):
        stints = list(self.outing.stints.all())
        for contact in contacts:
            contact.settle(stints)
        self._keep_contacts(contacts, actor, cause, batch)

    def _adopt(self, actor, batch):
        """Take in the outing's contacts that have no stint and that it covers."""
        strays = [c for c in self.outing.contacts.stintless() if self.covers(c) and self.suits(c)]
        for contact in strays:
            contact.take_over(self)
        self._keep_contacts(strays, actor, "joined a stint", batch)

    def _keep_contacts(self, contacts, actor, cause, batch):
        if contacts:
            type(contacts[0]).keep_all(contacts, actor, cause=cause, batch=batch)


class Pause(Recorded):
    """A break within a stint; it is not on-air time."""

    stint = models.ForeignKey(Stint, on_delete=models.CASCADE, related_name="pauses")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta(Recorded.Meta):
        ordering = ["started_at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="pause_uuid")]

    def __str__(self):
        return f"{self.started_at:%H:%M}"

    def save(self, *args, **kwargs):
        if self.owner_id is None:
            self.owner_id = self.stint.owner_id
        super().save(*args, **kwargs)
