"""Who keeps a log here: operators with their preferences, the codes that make accounts, and their paired phones."""

import hashlib
import hmac
import re
import secrets
from datetime import timedelta

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import RegexValidator
from django.db import models
from django.utils import timezone

from equipment import numerals

CALL_SIGN = RegexValidator(
    r"\A[A-Z0-9]{1,8}(/[A-Z0-9]{1,8}){0,3}\Z", "A call sign has letters, digits and slashes only, such as Q1ABC."
)

GRID = RegexValidator(
    r"\A[A-R]{2}[0-9]{2}([a-x]{2}([0-9]{2}([a-x]{2})?)?)?\Z",
    "A grid square has 4, 6, 8 or 10 characters, such as JO62 or JO62qm.",
)


CLOCKS_DIFFER = timedelta(minutes=1)  # those of two processes of a club, at most
DEMO_CALL = "Q0DEMO"  # the account for looking around, which is nobody's


class OperatorManager(BaseUserManager):
    """Makes accounts; a call sign is kept in capitals."""

    def nobody_yet(self):
        """Whether the set-up code is still to be used: there is no account, or only the one for looking around."""
        return not self.exclude(call_sign=DEMO_CALL).exists()

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

    class DecimalSign(models.TextChoices):
        POINT = numerals.POINT, "a point: 14.2"
        COMMA = numerals.COMMA, "a comma: 14,2"

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
    home_grid = models.CharField("home grid", max_length=10, blank=True, validators=[GRID])
    units = models.CharField(max_length=8, choices=Units, default=Units.METRIC)
    clock = models.CharField("local time", max_length=2, choices=Clock, default=Clock.HOURS_24)
    decimal_sign = models.CharField("decimals after", max_length=1, choices=DecimalSign, default=DecimalSign.POINT)
    theme = models.CharField(max_length=5, choices=Theme, default=Theme.AUTO)
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)
    place_by_area = models.BooleanField("place contacts without a grid by their state or country", default=False)
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

    def switch(self, open_):
        """Close the account, which ends its sessions and keeps its log, or open it again."""
        self.is_active = bool(open_)
        self.save(update_fields=["is_active"])


class InvitationQuerySet(models.QuerySet):
    """One-time codes."""

    def for_set_up(self):
        """The code for the first account, which nobody can have invited to."""
        return self.filter(invited_by__isnull=True)

    def from_keeper(self):
        """The codes that invite further operators."""
        return self.filter(invited_by__isnull=False)

    def open(self):
        """Codes that can still be used; a clock that is set back brings none to life that was made after it."""
        now = timezone.now()
        return self.filter(expires_at__gt=now, made_at__lte=now + CLOCKS_DIFFER, wrong_tries__lt=Invitation.TRIES)

    def with_code(self, code):
        return self.filter(digest=Invitation.digested(code))

    def renew_set_up(self):
        """Make a new code for the first account; earlier ones are void. Returns the code, which is not stored."""
        self.for_set_up().delete()
        return self.make(lifetime=timedelta(days=3650))

    def make(self, invited_by=None, note="", lifetime=timedelta(days=7)):
        """Make a code, and return it: only its digest is stored."""
        code = "-".join("".join(secrets.choice(Invitation.LETTERS) for _ in range(4)) for _ in range(4))
        self.create(
            digest=Invitation.digested(code), invited_by=invited_by, note=note, expires_at=timezone.now() + lifetime
        )
        return code


class Invitation(models.Model):
    """Leave to make one account, once, for whoever knows the code (79 bits, so a plain digest keeps it)."""

    LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
    TRIES = 20

    digest = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Operator, on_delete=models.CASCADE, null=True, related_name="invitations")
    note = models.CharField("for whom", max_length=80, blank=True)
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    wrong_tries = models.PositiveSmallIntegerField(default=0)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self):
        return self.note or f"code of {self.made_at:%Y-%m-%d}"

    @staticmethod
    def digested(code):
        """The digest of a code, however it was typed."""
        return hashlib.sha256(re.sub(r"[^A-Z0-9]", "", code.upper()).encode()).hexdigest()

    def fits(self, code):
        """Whether this is the code; a wrong one is counted, and after TRIES of them the code is void."""
        if hmac.compare_digest(self.digested(code), self.digest):
            return True
        self.wrong_tries = models.F("wrong_tries") + 1
        self.save(update_fields=["wrong_tries"])
        return False

    def use(self):
        """Take the code out of the world; says whether this call was the one that did."""
        return bool(type(self).objects.filter(pk=self.pk).delete()[0])


class PhonePairingQuerySet(models.QuerySet):
    """Phones that are paired, and codes with which one can be."""

    def of(self, operator):
        return self.filter(operator=operator)

    def paired(self):
        return self.filter(paired_at__isnull=False)

    def waiting(self, now):
        """Codes that can still be used; a clock that is set back brings none to life that was made after it."""
        found = self.filter(paired_at__isnull=True, operator__is_active=True)
        return found.filter(expires_at__gt=now, made_at__lte=now + CLOCKS_DIFFER)

    def with_token(self, token):
        return self.filter(digest=PhonePairing.digested(token))

    def strays(self, origins):
        """Those that know this program under an address that is none of these."""
        return self.exclude(origin__in=origins)

    def origins(self):
        """The addresses that phones know this program under."""
        return self.order_by("origin").values_list("origin", flat=True).distinct()

    def make(self, operator, origin, now):
        """Make a code for one phone, and return its token: only the digest is stored. Earlier codes are void."""
        self.of(operator).filter(paired_at__isnull=True).delete()
        token = secrets.token_urlsafe(24)
        self.create(
            operator=operator, origin=origin, digest=PhonePairing.digested(token), made_at=now,
            expires_at=now + PhonePairing.LIFETIME,
        )
        return token


class PhonePairing(models.Model):
    """A phone that is logged in without a password, or leave for one to be, for whoever holds the token (192 bits)."""

    LIFETIME = timedelta(minutes=10)
    SEEN_EVERY = timedelta(minutes=1)
    LOGGED_IN_S = 365 * 24 * 60 * 60
    SESSION_KEY = "phone"

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="phones")
    digest = models.CharField(max_length=64, unique=True)
    origin = models.CharField("reached at", max_length=300)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    device = models.CharField(max_length=80, blank=True)
    name = models.CharField(max_length=40, blank=True)
    phone = models.UUIDField(null=True)  # what it calls itself when it hands in
    paired_at = models.DateTimeField(null=True)
    seen_at = models.DateTimeField(null=True)

    objects = PhonePairingQuerySet.as_manager()

    class Meta:
        ordering = ["-paired_at", "-id"]

    def __str__(self):
        return self.name or self.device or "a phone"

    @staticmethod
    def digested(token):
        return hashlib.sha256(token.encode()).hexdigest()

    def use(self, device, now):
        """Pair the phone that holds the token; says whether this call was the one that did."""
        waiting = type(self).objects.waiting(now).filter(pk=self.pk)
        return bool(waiting.update(paired_at=now, seen_at=now, device=device))

    def see(self, now):
        """Note that the phone was here, now and then."""
        if abs(now - self.seen_at) >= self.SEEN_EVERY:
            type(self).objects.filter(pk=self.pk).update(seen_at=now)

    def hears_from(self, phone):
        """Note what the phone calls itself; an earlier pairing of the same phone is over, its name goes on."""
        twins = type(self).objects.of(self.operator).filter(phone=phone).exclude(pk=self.pk)
        name = self.name or next((twin.name for twin in twins if twin.name), "")
        twins.delete()
        type(self).objects.filter(pk=self.pk).update(phone=phone, name=name)

    def unpair(self):
        """End the pairing, and with the phone's next request its session."""
        self.delete()
