"""The gear: radios, antennas with their arrangements, packs with their readings, feedlines, accessories."""

from django.core.validators import MinValueValidator
from django.db import models

from .history import Owned, OwnedQuerySet, Recorded

NOT_NEGATIVE = [MinValueValidator(0)]


class ItemQuerySet(OwnedQuerySet):
    """Pieces of gear."""

    def in_use(self):
        return self.filter(retired_on__isnull=True)

    def retired(self):
        return self.filter(retired_on__isnull=False)


def picture_path(item, filename):
    """Where a picture is stored; the name is ours, never the uploader's."""
    import uuid

    return f"pictures/{item.owner_id}/{uuid.uuid4().hex}.jpg"


class Item(Owned):
    """What every piece of gear has in common."""

    class Kind(models.TextChoices):
        RADIO = "radio", "radio"
        ANTENNA = "antenna", "antenna"
        PACK = "pack", "battery pack"
        FEEDLINE = "feedline", "feedline"
        ACCESSORY = "accessory", "accessory"

    kind = models.CharField(max_length=10, choices=Kind, editable=False)
    name = models.CharField(max_length=80)
    maker = models.CharField(max_length=80, blank=True)
    model = models.CharField(max_length=80, blank=True)
    serial = models.CharField("serial number", max_length=80, blank=True)
    weight_kg = models.FloatField("weight", null=True, blank=True, validators=NOT_NEGATIVE)
    acquired_on = models.DateField("acquired", null=True, blank=True)
    retired_on = models.DateField("retired", null=True, blank=True)
    notes = models.TextField(blank=True)
    picture = models.ImageField(upload_to=picture_path, blank=True)

    objects = ItemQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["owner", "kind", "name"], name="item_owner_kind")]

    def __str__(self):
        return self.name

    def save(self, *args, **kwargs):
        if type(self) is not Item:
            self.kind = type(self).KIND
        super().save(*args, **kwargs)


class Radio(Item):
    """A transceiver; what it draws and gives at each power is in its power settings."""

    KIND = Item.Kind.RADIO

    receive_a = models.FloatField("receive current", null=True, blank=True, validators=NOT_NEGATIVE)
    minimum_v = models.FloatField("lowest supply voltage", null=True, blank=True, validators=NOT_NEGATIVE)
    modes = models.JSONField(default=list, blank=True)


class PowerSetting(models.Model):
    """One power setting of a radio with what was measured at it."""

    radio = models.ForeignKey(Radio, on_delete=models.CASCADE, related_name="power_settings")
    label = models.CharField("setting", max_length=40)
    output_w = models.FloatField("output", validators=NOT_NEGATIVE)
    transmit_a = models.FloatField("current at full output", null=True, blank=True, validators=NOT_NEGATIVE)
    measured_on = models.DateField("measured", null=True, blank=True)

    class Meta:
        ordering = ["output_w", "id"]

    def __str__(self):
        return self.label


class Antenna(Item):
    """An antenna as a thing that is owned; how it is put up is an arrangement."""

    KIND = Item.Kind.ANTENNA


class ArrangementQuerySet(OwnedQuerySet):
    """Ways to put up antennas."""

    def in_use(self):
        return self.filter(retired_on__isnull=True, antenna__retired_on__isnull=True)


class Arrangement(Owned):
    """One way to put up one antenna; the unit whose rates and distances are judged."""

    class Orientation(models.TextChoices):
        VERTICAL = "vertical", "vertical"
        HORIZONTAL = "horizontal", "horizontal"
        SLOPING = "sloping", "sloping"
        INVERTED_V = "inverted V", "inverted V"
        OTHER = "other", "other"

    antenna = models.ForeignKey(Antenna, on_delete=models.CASCADE, related_name="arrangements")
    name = models.CharField(max_length=80)
    element_length_m = models.FloatField("element length", null=True, blank=True, validators=NOT_NEGATIVE)
    coil = models.CharField(max_length=80, blank=True)
    tap = models.CharField(max_length=40, blank=True)
    counterpoise_m = models.FloatField("counterpoise length", null=True, blank=True, validators=NOT_NEGATIVE)
    radials = models.PositiveSmallIntegerField("number of radials", null=True, blank=True)
    radial_length_m = models.FloatField("length of each radial", null=True, blank=True, validators=NOT_NEGATIVE)
    feedpoint_height_m = models.FloatField("feedpoint height", null=True, blank=True, validators=NOT_NEGATIVE)
    orientation = models.CharField(max_length=12, choices=Orientation, blank=True)
    azimuth_deg = models.FloatField("direction", null=True, blank=True)
    transformer = models.CharField(max_length=40, blank=True)
    notes = models.TextField(blank=True)
    retired_on = models.DateField("retired", null=True, blank=True)

    objects = ArrangementQuerySet.as_manager()

    class Meta:
        ordering = ["antenna__name", "name", "id"]

    def __str__(self):
        return self.name


class BandSetting(models.Model):
    """What an arrangement needs on one band: its tap, its length, a tuner."""

    arrangement = models.ForeignKey(Arrangement, on_delete=models.CASCADE, related_name="band_settings")
    band = models.CharField(max_length=8)
    tap = models.CharField(max_length=40, blank=True)
    element_length_m = models.FloatField("element length", null=True, blank=True, validators=NOT_NEGATIVE)
    tuner = models.BooleanField("needs the tuner", default=False)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["arrangement", "band"], name="one_setting_a_band")]

    def __str__(self):
        return self.band


class Pack(Item):
    """A battery pack."""

    KIND = Item.Kind.PACK

    class Chemistry(models.TextChoices):
        LIFEPO4 = "LiFePO4", "LiFePO4"
        LI_ION = "Li-ion", "lithium-ion (NMC, NCA, LCO)"
        LEAD_ACID = "lead-acid", "lead-acid, AGM or gel"
        NIMH = "NiMH", "NiMH"
        OTHER = "other", "other"

    chemistry = models.CharField(max_length=10, choices=Chemistry)
    cells_in_series = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MinValueValidator(1)])
    rated_ah = models.FloatField("rated capacity", null=True, blank=True, validators=NOT_NEGATIVE)
    measured_ah = models.FloatField("measured capacity", null=True, blank=True, validators=NOT_NEGATIVE)
    measured_on = models.DateField("capacity measured", null=True, blank=True)
    resistance_ohm = models.FloatField("internal resistance", null=True, blank=True, validators=NOT_NEGATIVE)
    nominal_v = models.FloatField("nominal voltage", null=True, blank=True, validators=NOT_NEGATIVE)
    max_discharge_a = models.FloatField("discharge limit", null=True, blank=True, validators=NOT_NEGATIVE)
    max_charge_a = models.FloatField("charge limit", null=True, blank=True, validators=NOT_NEGATIVE)
    max_charge_v = models.FloatField("charge voltage limit", null=True, blank=True, validators=NOT_NEGATIVE)
    cutoff_v = models.FloatField("lowest voltage", null=True, blank=True, validators=NOT_NEGATIVE)


class PackReading(Recorded):
    """One dated voltage of a pack, with what the pack was doing."""

    class Doing(models.TextChoices):
        RESTING = "resting", "resting"
        RECEIVING = "receiving", "under receive load"
        TRANSMITTING = "transmitting", "under transmit load"
        CHARGING = "charging", "charging"
        UNKNOWN = "unknown", "not known"

    pack = models.ForeignKey(Pack, on_delete=models.CASCADE, related_name="readings")
    at = models.DateTimeField()
    voltage_v = models.FloatField("voltage")
    current_a = models.FloatField("current", null=True, blank=True)
    temperature_c = models.FloatField("temperature", null=True, blank=True)
    doing = models.CharField(max_length=12, choices=Doing, default=Doing.UNKNOWN)
    resting_since = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta(Recorded.Meta):
        ordering = ["at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="reading_uuid")]
        indexes = [models.Index(fields=["pack", "at"], name="reading_pack_at")]

    def __str__(self):
        return f"{self.voltage_v} V"


class Feedline(Item):
    """A line between radio and antenna."""

    KIND = Item.Kind.FEEDLINE

    line_type = models.CharField("type", max_length=40, blank=True)
    length_m = models.FloatField("length", null=True, blank=True, validators=NOT_NEGATIVE)
    connectors = models.CharField(max_length=80, blank=True)


class Accessory(Item):
    """Anything else that goes along: mast, tuner, key, headphones, clamp, tarp."""

    KIND = Item.Kind.ACCESSORY
