"""Contacts: what was worked."""

from django.core.validators import MinValueValidator
from django.db import models

from equipment.models import LivingManager, OwnedQuerySet, Recorded

from .outings import Outing
from .stints import Stint


class ContactQuerySet(OwnedQuerySet):
    """Contacts of an operator's log."""

    def counted(self):
        """Leave out doubtful ones that are kept as pending."""
        return self.filter(pending=False)

    def pending(self):
        return self.filter(pending=True)


class Contact(Recorded):
    """One contact (QSO). Columns follow ADIF 3.1.7; what has no column stays in `raw` and goes out as it came."""

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="contacts")
    stint = models.ForeignKey(Stint, on_delete=models.SET_NULL, null=True, blank=True, related_name="contacts")
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
    raw = models.JSONField(null=True, blank=True, editable=False)  # [[field, type letter or "", value], ...] as it came
    problems = models.JSONField(default=list, blank=True, editable=False)  # [[field, why not taken], ...]
    imported_by = models.ForeignKey(
        "outings.ImportedFile", models.SET_NULL, null=True, blank=True, related_name="contacts", editable=False
    )

    objects = LivingManager.from_queryset(ContactQuerySet)()
    everything = ContactQuerySet.as_manager()

    class Meta(Recorded.Meta):
        ordering = ["started_at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="contact_uuid")]
        indexes = [
            models.Index(fields=["owner", "started_at"], name="contact_owner_start"),
            models.Index(fields=["owner", "call"], name="contact_owner_call"),
            models.Index(fields=["outing", "started_at"], name="contact_outing_start"),
        ]

    def __str__(self):
        return f"{self.call} {self.started_at:%Y-%m-%d %H:%M}"


class ContactConflict(models.Model):
    """The version of a contact that lost when two places changed it; kept and shown, never dropped."""

    contact = models.ForeignKey(Contact, on_delete=models.CASCADE, related_name="conflicts")
    at = models.DateTimeField(auto_now_add=True)
    revision = models.PositiveIntegerField()
    values = models.JSONField()
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at"]

    def __str__(self):
        return f"{self.contact} revision {self.revision}"
