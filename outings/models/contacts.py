"""Contacts: what was worked."""

import datetime
import re

from django.core.validators import MinValueValidator
from django.db import connections, models, transaction
from django.urls import reverse
from django.utils import timezone

from equipment.models import Change, LivingManager, OwnedQuerySet, Recorded, any_holds
from equipment.models.history import from_json
from outings import areas, dial, geography
from outings.adif import tables

from .came import CameField
from .outings import Outing
from .stints import Stint

MORSE_MODES = ("CW", "PCW")
WITHOUT_COUNTRY = ("/MM", "/AM")  # maritime and aeronautical mobile; common practice, no source


def references_of(text):
    """The references in a text as a set, `AB-1, AB-2` as two; letter case does not matter."""
    return frozenset(part.upper() for part in re.split(r"[,;\s]+", text) if part)


def own_references(outing):
    """An outing's own references as a set of (programme, reference), letter case apart."""
    return frozenset((r.get("programme", "").upper(), r.get("reference", "").upper()) for r in outing.references)


def utc_day(moment):
    """The start and the end of the UTC day of a moment."""
    start = moment.astimezone(datetime.UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    return start, start + datetime.timedelta(days=1)


class ContactQuerySet(OwnedQuerySet):
    """Contacts of an operator's log."""

    def duplicates_of(self, contact):
        """Contacts that `contact` (saved or not) repeats, the oldest first.

        The same: own call used, call, band, family of modes (voice, Morse, digital), UTC day and own reference. A new
        reference of theirs, or a new one of ours, makes a contact a new one. Where two contacts repeat each other, each
        is found for the other; ask with `.before(contact)` for what it repeats in a log that is complete.
        """
        start, end = utc_day(contact.started_at)
        same = self.filter(
            owner_id=contact.owner_id, station_call=contact.station_call, call=contact.call, band=contact.band,
            started_at__gte=start, started_at__lt=end,
        ).exclude(pk=contact.pk).select_related("outing")
        family, ours = tables.mode_family(contact.mode, contact.submode), own_references(contact.outing)
        alike = [
            other for other in same
            if tables.mode_family(other.mode, other.submode) == family
            and (other.outing_id == contact.outing_id or _none_new(ours, own_references(other.outing)))
        ]
        theirs = references_of(contact.their_reference)
        if theirs:
            if not theirs <= frozenset().union(*(references_of(other.their_reference) for other in alike)):
                return self.none()
            alike = [other for other in alike if theirs & references_of(other.their_reference)]
        return self.filter(pk__in=[other.pk for other in alike]).order_by("started_at", "id")

    def seen_from(self, outing_id, owner_id, operator):
        """What an operator who logs at an outing may know: the own log, or as a member the log of that outing."""
        return self.of(operator) if owner_id == operator.pk else self.filter(outing=outing_id)

    def before(self, contact):
        """Those made before a contact; at the same second, those entered before."""
        earlier = models.Q(started_at__lt=contact.started_at)
        if contact.pk:
            earlier |= models.Q(started_at=contact.started_at, pk__lt=contact.pk)
        return self.filter(earlier)

    def locate_from(self, site):
        """Compute distance and bearing of all contacts made from a site again, after its position changed."""
        columns = ("their_grid", "their_latitude_deg", "their_longitude_deg", *self.model.DERIVED)
        moved = []
        for contact in self.filter(outing__site=site).exclude(their_grid="", their_latitude_deg=None).only(*columns):
            before = [getattr(contact, name) for name in self.model.DERIVED]
            contact.locate(site)
            if before != [getattr(contact, name) for name in self.model.DERIVED]:
                moved.append(contact)
        self.bulk_update(moved, self.model.DERIVED, batch_size=100)

    def counted(self):
        """Leave out doubtful ones that are kept as pending."""
        return self.filter(pending=False)

    def pending(self):
        return self.filter(pending=True)

    def towards(self, from_deg, to_deg):
        """Those whose bearing lies between two, clockwise, the first included; beyond 0 or 360 it goes on."""
        from_deg, to_deg = from_deg % 360, to_deg % 360
        if from_deg < to_deg:
            return self.filter(bearing_deg__gte=from_deg, bearing_deg__lt=to_deg)
        return self.filter(models.Q(bearing_deg__gte=from_deg) | models.Q(bearing_deg__lt=to_deg))

    def in_areas(self):
        """Those whose position is not known, but perhaps the state or country that they are in."""
        nowhere = models.Q()
        for ending in WITHOUT_COUNTRY:
            nowhere |= models.Q(call__endswith=ending)
        return self.filter(distance_km=None).exclude(nowhere).exclude(dxcc=None, country="", state="")

    def gridless(self):
        return self.filter(their_grid="")

    def stintless(self):
        return self.filter(stint__isnull=True)

    def marked(self):
        """Those with a value from a file that is not to the standard and was kept beside."""
        return self.exclude(problems=[])

    def conflict(self):
        """Those that two places changed and nobody has looked at yet."""
        return self.filter(pk__in=ContactConflict.objects.filter(settled_at__isnull=True).values("contact"))

    def timed_by(self, entries):
        """Those that still have the time that one of these FieldEntry gave them."""
        return self.filter(models.Exists(entries.filter(
            kind="contact", subject=models.OuterRef("uuid"), outing=models.OuterRef("outing"),
            happened_at=models.OuterRef("started_at"),
        )))

    def logged_by(self, operator):
        """Those that an operator entered, in whoever's log."""
        return self.filter(models.Exists(Change.objects.filter(
            owner=models.OuterRef("owner"), kind=self.model._meta.label_lower, subject=models.OuterRef("uuid"),
            action=Change.Action.CREATE, actor=operator,
        )))

    def call_begins(self, prefix, by_index=True):
        rows = self.filter(call__startswith=prefix)
        # SQLite's LIKE does not use the index; its order is that of code points.
        if by_index and connections[self.db].vendor == "sqlite":
            rows = rows.filter(call__gte=prefix, call__lt=prefix + "\U0010ffff")
        return rows

    def call_contains(self, part):
        return self.filter(call__contains=part)

    def of_family(self, family):
        """Morse ("cw"), voice ("phone") or everything else ("data"); those without a mode are in none."""
        if family == "cw":
            return self.filter(mode__in=MORSE_MODES)
        if family == "phone":
            return self.filter(mode__in=tables.PHONE_MODES)
        return self.exclude(mode__in=("", *MORSE_MODES, *tables.PHONE_MODES))

    def in_mode(self, name):
        """In a mode or a submode."""
        return self.filter(models.Q(mode__iexact=name) | models.Q(submode__iexact=name))

    def mentioning(self, text):
        """With a text somewhere in what was noted about the other side."""
        return self.filter(any_holds(
            text, "name", "qth", "comment", "notes", "their_reference", "exchange_rcvd", "qsl_note", "country"
        ))

    def qsl(self, state):
        """By confirmation: "sent", "unsent", "received", "waiting" (sent, none received), "owed" (the other way)."""
        sent, received = models.Q(qsl_sent="Y"), models.Q(qsl_rcvd__in=("Y", "V"))
        return self.filter({
            "sent": sent, "unsent": ~sent, "received": received, "waiting": sent & ~received, "owed": received & ~sent,
        }[state])


class WrittenJSONField(models.JSONField):
    """JSON that SQLite does not parse again to check it: it comes from json.dumps, many thousand at a time."""

    def db_check(self, connection):
        return None


class Contact(Recorded):
    """One contact (QSO). Columns follow ADIF 3.1.7; what has no column stays in `raw` and goes out as it came."""

    outing = models.ForeignKey(
        Outing, on_delete=models.CASCADE, related_name="contacts", db_index=False
    )  # the index contact_outing_start begins with it
    stint = models.ForeignKey(
        Stint, on_delete=models.SET_NULL, null=True, blank=True, related_name="contacts", db_index=False
    )  # the index contact_stint_sums begins with it
    call = models.CharField(max_length=30)
    pending = models.BooleanField("doubtful", default=False)
    started_at = models.DateTimeField("time")
    seconds_known = models.BooleanField(default=True, editable=False)
    ended_at = models.DateTimeField(null=True, blank=True)
    band = models.CharField(max_length=8, blank=True)
    frequency_hz = models.BigIntegerField("frequency", null=True, blank=True)
    band_rx = models.CharField("receive band", max_length=8, blank=True)
    frequency_rx_hz = models.BigIntegerField("receive frequency", null=True, blank=True)
    mode = models.CharField(max_length=20, blank=True)
    submode = models.CharField(max_length=20, blank=True)
    rst_sent = models.CharField("report sent", max_length=20, blank=True)
    rst_rcvd = models.CharField("report received", max_length=20, blank=True)
    station_call = models.CharField("own call used", max_length=30)
    operator_call = models.CharField("operator", max_length=30, blank=True)
    power_w = models.FloatField("own power", null=True, blank=True, validators=[MinValueValidator(0)])
    their_grid = models.CharField("their grid", max_length=12, blank=True)
    their_latitude_deg = models.FloatField(null=True, blank=True)
    their_longitude_deg = models.FloatField(null=True, blank=True)
    their_programme = models.CharField("their programme", max_length=40, blank=True)
    their_reference = models.CharField("their reference", max_length=60, blank=True)
    name = models.CharField(max_length=80, blank=True)
    qth = models.CharField("place", max_length=120, blank=True)
    state = models.CharField("state or province", max_length=20, blank=True)
    county = models.CharField(max_length=80, blank=True)
    country = models.CharField(max_length=80, blank=True)
    dxcc = models.PositiveSmallIntegerField("DXCC entity code", null=True, blank=True)
    exchange_sent = models.CharField(max_length=60, blank=True)
    exchange_rcvd = models.CharField("exchange received", max_length=60, blank=True)
    serial_sent = models.PositiveIntegerField(null=True, blank=True)
    serial_rcvd = models.PositiveIntegerField("serial received", null=True, blank=True)
    prop_mode = models.CharField("propagation", max_length=10, blank=True)
    sat_name = models.CharField("satellite", max_length=40, blank=True)
    sat_mode = models.CharField("satellite mode", max_length=20, blank=True)
    comment = models.CharField(max_length=255, blank=True)
    notes = models.TextField(blank=True)
    qsl_sent = models.CharField("QSL sent", max_length=1, blank=True)
    qsl_rcvd = models.CharField("QSL received", max_length=1, blank=True)
    qsl_sent_on = models.DateField(null=True, blank=True)
    qsl_rcvd_on = models.DateField(null=True, blank=True)
    qsl_note = models.CharField("QSL note", max_length=200, blank=True)
    distance_km = models.FloatField(null=True, blank=True, editable=False)
    distance_error_km = models.FloatField(null=True, blank=True, editable=False)
    bearing_deg = models.FloatField(null=True, blank=True, editable=False)
    raw = CameField(null=True, blank=True, editable=False)
    problems = WrittenJSONField(default=list, blank=True, editable=False)  # [[field, why not taken], ...]
    imported_by = models.ForeignKey(
        "outings.ImportedFile", models.SET_NULL, null=True, blank=True, related_name="contacts", editable=False,
        db_index=False,
    )  # asked for when an import is undone, which may take a moment; an index would slow every contact

    objects = LivingManager.from_queryset(ContactQuerySet)()
    everything = ContactQuerySet.as_manager()

    class Meta(Recorded.Meta):
        ordering = ["started_at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="contact_uuid")]
        indexes = [
            # with all else that is looked for in a whole log (the farthest, what was edited), so that rows stay closed;
            # the time comes second, since PostgreSQL finds no order behind a column that IS NULL
            models.Index(
                fields=["owner", "started_at", "distance_km", "revision", "deleted_at", "id"],
                name="contact_owner_start", condition=models.Q(deleted_at=None),
            ),
            models.Index(
                fields=["owner", "started_at"], name="contact_gone", condition=models.Q(deleted_at__isnull=False)
            ),
            models.Index(fields=["owner", "call"], name="contact_owner_call", condition=models.Q(deleted_at=None)),
            models.Index(
                fields=["owner", "deleted_at", "started_at"], name="contact_pending", condition=models.Q(pending=True)
            ),
            models.Index(fields=["outing", "started_at"], name="contact_outing_start"),
            # all that the performance page asks of a stint's contacts, so that it need not open the rows themselves
            models.Index(
                fields=["stint", "deleted_at", "pending", "owner", "distance_km", "bearing_deg"],
                name="contact_stint_sums",
            ),
        ]

    DERIVED = ("distance_km", "distance_error_km", "bearing_deg")

    # What a contact takes over from its stint unless it was typed, in groups that belong together.
    TAKEN_OVER = (("band", "frequency_hz"), ("mode", "submode"), ("power_w",))

    def __str__(self):
        return f"{self.call} {self.started_at:%Y-%m-%d %H:%M}"

    def get_absolute_url(self):
        return reverse("outings:contact", args=[self.pk])

    @property
    def their_place(self):
        """Where they are: their position, else the cell of their grid square; None if neither is known or readable."""
        try:
            if self.their_latitude_deg is not None and self.their_longitude_deg is not None:
                return geography.Place(self.their_latitude_deg, self.their_longitude_deg)
            return geography.place_of_grid(self.their_grid) if self.their_grid else None
        except ValueError:
            return None

    @property
    def at_sea_or_in_the_air(self):
        """Whether they were on a ship or in an aircraft, where no country says where."""
        return self.call.endswith(WITHOUT_COUNTRY)

    @property
    def their_area(self):
        """The state or country that they are in, where their position is not known and that is; else None."""
        if self.their_place is not None or self.at_sea_or_in_the_air:
            return None
        return areas.area_of(self.dxcc, self.country, self.state, self.outing.site.dxcc)

    def locate(self, site):
        """Compute distance and bearing from a site; None where their position is not known."""
        there = self.their_place
        self.distance_km = self.distance_error_km = self.bearing_deg = None
        if there is not None:
            way = geography.way(site.place, there)
            self.distance_km, self.distance_error_km, self.bearing_deg = way.distance_km, way.error_km, way.bearing_deg

    @classmethod
    def derive(cls, rows):
        """Bring distances and bearings up to date."""
        models.prefetch_related_objects(rows, "outing__site")
        for contact in rows:
            contact.locate(contact.outing.site)

    def take_over(self, stint, *, instead_of=None):
        """Belong to a stint: take over its band and frequency, mode and power where they are not this contact's own.

        Not its own is what is empty, or what it took over from the stint that it belonged to before (`instead_of`),
        and a report that was the usual one of that stint's mode. A contact that came in a file is left as it came, and
        has no stint rather than one of another band or mode.
        """
        if self.imported_by_id:
            self.stint = stint if stint.suits(self) else None
            return
        for group in self.TAKEN_OVER:
            mine = [getattr(self, name) for name in group]
            taken = instead_of is not None and mine == [getattr(instead_of, name) for name in group]
            only_band = group[0] == "band" and mine == [stint.band, None]
            if taken or only_band or all(value in ("", None) for value in mine):
                for name in group:
                    setattr(self, name, getattr(stint, name))
        usual = dial.usual_report(instead_of.mode, instead_of.submode) if instead_of else ""
        for name in ("rst_sent", "rst_rcvd"):
            if usual and getattr(self, name) == usual:
                setattr(self, name, dial.usual_report(self.mode, self.submode))
        self.stint = stint

    def settle(self, stints=None):
        """Find its stint: the one of the outing that covers its time, band and mode; of several the latest begun.

        `stints` may hand in the outing's stints, read once for many contacts. Takes over what is empty; returns the
        stint.
        """
        if stints is None:
            stints = self.outing.stints.all()
        fitting = [s for s in stints if s.covers(self) and s.suits(self)]
        self.stint = None
        if fitting:
            # at a boundary the stint that begins there is meant, as the latest begun
            self.take_over(max(fitting, key=lambda s: (s.started_at, s.pk)))
        return self.stint


def _none_new(ours, before):
    """Whether our references were all there before; an outing without one is a place of its own."""
    return ours == before or (bool(ours) and ours <= before)


class ContactConflict(models.Model):
    """The version of a contact that lost when two places changed it; kept and shown, never dropped."""

    contact = models.ForeignKey(Contact, on_delete=models.CASCADE, related_name="conflicts")
    at = models.DateTimeField(default=timezone.now, editable=False)
    revision = models.PositiveIntegerField()
    values = models.JSONField()
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at"]
        indexes = [
            models.Index(fields=["contact"], name="contact_conflict_open", condition=models.Q(settled_at=None)),
        ]

    def __str__(self):
        return f"{self.contact} revision {self.revision}"

    def settle(self, actor, *, take_over):
        """Close it: the contact stays as it is, or takes over what this version held. `values` are as in a Change."""
        with transaction.atomic():
            contact = Contact.everything.select_for_update(of=("self",)).get(pk=self.contact_id)
            if take_over:
                for column, value in self.values.items():
                    field = Contact.tracked_field(column)
                    if field is not None and column in Contact.tracked():
                        setattr(contact, column, from_json(field, value))
                contact.keep(actor, cause="conflict settled")
            self.settled_at = timezone.now()
            self.save(update_fields=["settled_at"])
