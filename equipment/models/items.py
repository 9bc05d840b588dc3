"""The gear: radios, antennas with their arrangements, packs with their readings, feedlines, accessories."""

import uuid
from functools import partial

from django.core.files.base import ContentFile
from django.core.validators import MinValueValidator
from django.db import DatabaseError, models, transaction
from django.urls import reverse

from equipment.numerals import Numeral

from .history import Recorded
from .kept_files import drop_unnamed
from .retiring import Retirable, RetirableQuerySet
from .search import any_holds

NOT_NEGATIVE = [MinValueValidator(0)]


class ItemQuerySet(RetirableQuerySet):
    """Pieces of gear."""

    def of_kind(self, kind):
        return self.filter(kind=kind)

    def naming(self, text):
        """Every word of the text occurs in the name, maker, model, serial number or notes."""
        rows = self
        for word in text.split():
            rows = rows.filter(any_holds(word, "name", "maker", "model", "serial", "notes"))
        return rows


def picture_path(item, filename):
    """Where a picture is stored; the name is ours, never the uploader's."""
    return f"pictures/{item.owner_id}/{uuid.uuid4().hex}.jpg"


def copied_name(row):
    """The name of a copy, cut where it would be too long."""
    return f"{row.name[:row._meta.get_field('name').max_length - 7]} (copy)"


class Item(Retirable):
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
    notes = models.TextField(blank=True)
    picture = models.ImageField(upload_to=picture_path, blank=True)

    NOT_COPIED = frozenset({"id", "item_ptr_id", "serial", "picture", "acquired_on", "retired_on"})

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

    def get_absolute_url(self):
        return reverse("equipment:item", args=[self.pk])

    def as_kind(self):
        """This row as a Radio, Antenna, Pack, Feedline or Accessory."""
        return self if type(self) is not Item else getattr(self, self.kind)

    @property
    def picture_name(self):
        """The name of the picture's file, which a new picture does not share; empty where there is none."""
        return self.picture.name.rsplit("/", 1)[-1] if self.picture else ""

    def show(self, jpeg):
        """Keep a picture, given as the bytes of a JPEG, in place of the one before."""
        before = self.picture.name
        self.picture.save("", ContentFile(jpeg), save=False)
        try:
            self.save(update_fields=["picture"])
        except DatabaseError:  # a full disk, say: the one before stays
            drop_unnamed(self.picture, Item.objects.filter(picture=self.picture.name))
            raise
        if before:
            transaction.on_commit(partial(self.picture.storage.delete, before))

    def hide(self):
        """Remove the picture, its file once the row is without it."""
        with transaction.atomic():
            self._forget_picture_file()
            self.picture = ""
            self.save(update_fields=["picture"])

    def delete(self, *args, **kwargs):
        """Delete the row with its picture; raises ProtectedError where something refers to it."""
        with transaction.atomic():
            self._forget_picture_file()
            return super().delete(*args, **kwargs)

    def _forget_picture_file(self):
        if self.picture:
            transaction.on_commit(partial(self.picture.storage.delete, self.picture.name))

    def copy(self):
        """A second piece of the same make, with everything below it.

        What belongs to this very piece stays behind: serial number, picture, dates, and what was measured on a pack.
        """
        twin = type(self)(**{
            field.attname: getattr(self, field.attname) for field in self._meta.concrete_fields
            if field.attname not in self.NOT_COPIED
        })
        twin.name = copied_name(self)
        with transaction.atomic():
            twin.save()
            self._copy_below(twin)
        return twin

    def _copy_below(self, twin):
        """What belongs to a kind of gear is copied by that kind."""


class Radio(Item):
    """A transceiver; what it draws and gives at each power is in its power settings."""

    KIND = Item.Kind.RADIO

    receive_a = models.FloatField("receive current", null=True, blank=True, validators=NOT_NEGATIVE)
    minimum_v = models.FloatField("lowest supply voltage", null=True, blank=True, validators=NOT_NEGATIVE)
    modes = models.JSONField(default=list, blank=True)

    def _copy_below(self, twin):
        for setting in self.power_settings.all():
            setting.pk, setting._state.adding, setting.radio = None, True, twin
            setting.save()


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

    def arrangements_with_bands(self):
        """Its arrangements with their band settings, and as `swept` how often each was."""
        swept = models.Count("sweeps", filter=models.Q(sweeps__deleted_at=None))
        return self.arrangements.prefetch_related("band_settings").annotate(swept=swept)

    def _copy_below(self, twin):
        for coil in self.coils.all():
            coil.copy_to(twin)
        for arrangement in self.arrangements.all():
            arrangement.copy(antenna=twin)


class ArrangementQuerySet(RetirableQuerySet):
    """Ways to put up antennas; one whose antenna is retired is not in use."""

    def in_use(self):
        return self.filter(retired_on__isnull=True, antenna__retired_on__isnull=True)

    def retired(self):
        return self.filter(models.Q(retired_on__isnull=False) | models.Q(antenna__retired_on__isnull=False))


class Arrangement(Retirable):
    """One way to put up one antenna; the unit whose rates and distances are judged."""

    class Orientation(models.TextChoices):
        VERTICAL = "vertical", "vertical"
        HORIZONTAL = "horizontal", "horizontal"
        SLOPING = "sloping", "sloping"
        INVERTED_V = "inverted V", "inverted V"
        OTHER = "other", "other"

    class Ground(models.TextChoices):
        DRY = "dry", "dry ground"
        WET = "wet", "wet ground"
        SAND = "sand", "sand"
        SALT_WATER = "salt water", "salt water"

    antenna = models.ForeignKey(Antenna, on_delete=models.CASCADE, related_name="arrangements")
    name = models.CharField(max_length=80)
    element_length_m = models.FloatField("element length", null=True, blank=True, validators=NOT_NEGATIVE)
    element_thickness_m = models.FloatField("element thickness", null=True, blank=True, validators=NOT_NEGATIVE)
    coil = models.CharField(max_length=80, blank=True)  # the name of one of the antenna's coils, or any words
    tap = models.CharField(max_length=40, blank=True)
    counterpoise_m = models.FloatField("counterpoise length", null=True, blank=True, validators=NOT_NEGATIVE)
    radials = models.PositiveSmallIntegerField("number of radials", null=True, blank=True)
    radial_length_m = models.FloatField("length of each radial", null=True, blank=True, validators=NOT_NEGATIVE)
    feedpoint_height_m = models.FloatField("feedpoint height", null=True, blank=True, validators=NOT_NEGATIVE)
    far_end_height_m = models.FloatField("far-end height", null=True, blank=True, validators=NOT_NEGATIVE)
    slope_deg = models.FloatField("slope", null=True, blank=True)  # of the element, up from the horizontal
    orientation = models.CharField(max_length=12, choices=Orientation, blank=True)
    azimuth_deg = models.FloatField("direction", null=True, blank=True)
    ground = models.CharField(max_length=10, choices=Ground, blank=True)
    transformer = models.CharField(max_length=40, blank=True)
    choke = models.CharField(max_length=80, blank=True)
    feedline = models.ForeignKey(
        "equipment.Feedline", on_delete=models.PROTECT, null=True, blank=True, related_name="arrangements"
    )
    notes = models.TextField(blank=True)

    objects = ArrangementQuerySet.as_manager()

    class Meta:
        ordering = ["antenna__name", "name", "id"]

    def __str__(self):
        return self.name

    def get_absolute_url(self):
        return reverse("equipment:arrangement", args=[self.pk])

    def copy(self, antenna=None):
        """The same arrangement again, with its band settings; under another antenna it keeps its name and its state."""
        settings = list(self.band_settings.all())
        twin = type(self).objects.get(pk=self.pk)
        twin.pk, twin._state.adding = None, True
        if antenna:
            twin.antenna = antenna
        else:
            twin.name, twin.retired_on = copied_name(self), None
        with transaction.atomic():
            twin.save()
            for setting in settings:
                setting.pk, setting._state.adding, setting.arrangement = None, True, twin
                setting.save()
        return twin


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
    inside = models.ForeignKey(Radio, on_delete=models.PROTECT, null=True, blank=True, related_name="packs_inside")

    def last_readings(self):
        """The newest readings, newest first, as many as its page shows."""
        return self.readings.order_by("-at", "-id")[:5]

    NOT_COPIED = Item.NOT_COPIED | {"measured_ah", "measured_on", "resistance_ohm", "inside_id"}


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
        return f"{Numeral(self.voltage_v):g} V"

    def get_absolute_url(self):
        return reverse("equipment:reading_list", args=[self.pack_id])


class Feedline(Item):
    """A line between radio and antenna."""

    KIND = Item.Kind.FEEDLINE

    line_type = models.CharField("type", max_length=40, blank=True)
    length_m = models.FloatField("length", null=True, blank=True, validators=NOT_NEGATIVE)
    connectors = models.CharField(max_length=80, blank=True)


class Accessory(Item):
    """Anything else that goes along: mast, tuner, key, headphones, tarp, and sources of power other than packs."""

    KIND = Item.Kind.ACCESSORY

    class Source(models.TextChoices):
        SOLAR = "solar", "solar panel"
        MAINS = "mains", "mains supply"
        VEHICLE = "vehicle", "lead to the vehicle"
        GENERATOR = "generator", "generator"

    source = models.CharField("source of power", max_length=10, choices=Source, blank=True)
    rated_w = models.FloatField("rated power", null=True, blank=True, validators=NOT_NEGATIVE)
