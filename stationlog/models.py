"""Who keeps a log here: operators and their preferences."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import RegexValidator
from django.db import models
from django.utils import timezone

CALL_SIGN = RegexValidator(
    r"\A[A-Z0-9]{1,8}(/[A-Z0-9]{1,8}){0,3}\Z", "A call sign has letters, digits and slashes only, such as Q1ABC."
)


class OperatorManager(BaseUserManager):
    """Makes accounts; a call sign is kept in capitals."""

    def create_user(self, call_sign, password=None, **fields):
        operator = self.model(call_sign=self.normalised(call_sign), **fields)
        operator.set_password(password)
        operator.save()
        return operator

    def get_by_natural_key(self, call_sign):
        return self.get(call_sign=self.normalised(call_sign))

    @staticmethod
    def normalised(call_sign):
        return (call_sign or "").strip().upper()


class Operator(AbstractBaseUser):
    """One licensed operator with an account; everything kept here belongs to exactly one."""

    class Units(models.TextChoices):
        METRIC = "metric", "metres, kilometres, kilograms"
        IMPERIAL = "imperial", "feet, miles, pounds"

    class Clock(models.TextChoices):
        HOURS_24 = "24", "14:05"
        HOURS_12 = "12", "2:05 pm"

    class Theme(models.TextChoices):
        AUTO = "auto", "as the device"
        LIGHT = "light", "light"
        DARK = "dark", "dark"
        RED = "red", "red, for the night"

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "Letter"

    call_sign = models.CharField(max_length=20, unique=True, validators=[CALL_SIGN])
    name = models.CharField(max_length=80)
    home_grid = models.CharField("home grid", max_length=10, blank=True)
    units = models.CharField(max_length=8, choices=Units, default=Units.METRIC)
    clock = models.CharField("local time", max_length=2, choices=Clock, default=Clock.HOURS_24)
    theme = models.CharField(max_length=5, choices=Theme, default=Theme.AUTO)
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)
    keeper = models.BooleanField("manages accounts", default=False)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = OperatorManager()

    USERNAME_FIELD = "call_sign"
    REQUIRED_FIELDS = ["name"]

    def __str__(self):
        return self.call_sign

    def get_full_name(self):
        return self.name

    def get_short_name(self):
        return self.call_sign
