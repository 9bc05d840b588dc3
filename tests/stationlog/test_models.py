"""Operator accounts."""

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError

from stationlog.models import Operator
from tests.making import PASSWORD, an_operator


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
