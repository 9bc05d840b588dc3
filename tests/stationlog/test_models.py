"""Operator accounts."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.utils import timezone

from stationlog.models import Invitation, Operator, PhonePairing
from tests.making import PASSWORD, a_phone_token, an_invitation, an_operator


@pytest.mark.django_db
def test_a_call_sign_is_kept_in_capitals_and_found_however_it_is_typed():
    operator = an_operator(" q1abc/p ")
    assert operator.call_sign == "Q1ABC/P"
    assert Operator.objects.get_by_natural_key("q1Abc/p") == operator
    assert operator.check_password(PASSWORD)


@pytest.mark.django_db
def test_a_call_sign_is_taken_once():
    an_operator("Q1ABC")
    with pytest.raises(IntegrityError):
        an_operator("q1abc")


@pytest.mark.django_db
@pytest.mark.parametrize("call_sign", ["", "Q1 ABC", "Q1ABC/", "/P", "Q1ÄBC", "Q1ABC\n", "Q1ABC//P"])
def test_a_malformed_call_sign_is_refused(call_sign):
    with pytest.raises(ValidationError):
        Operator(call_sign=call_sign, name="Robin", password="x").full_clean()


@pytest.mark.django_db
def test_a_clock_that_is_set_back_brings_no_old_code_to_life():
    now = timezone.now()
    code = an_invitation()
    token = a_phone_token(Operator.objects.get(), at=now)
    assert Invitation.objects.open().with_code(code).exists()
    assert PhonePairing.objects.waiting(now).with_token(token).exists()
    for late in (PhonePairing.LIFETIME, -timedelta(days=1)):
        assert not PhonePairing.objects.waiting(now + late).exists()
    Invitation.objects.update(made_at=now + timedelta(days=1), expires_at=now + timedelta(days=8))
    assert not Invitation.objects.open().exists()
