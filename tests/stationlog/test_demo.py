"""The demo command, and the button that does the same."""

import io

import pytest
from django.core.management import CommandError, call_command

from outings.models import Contact, DemoScenario, Outing
from stationlog.models import Operator
from tests.making import an_operator

pytestmark = pytest.mark.django_db


def run(**options):
    out = io.StringIO()
    call_command("demo", stdout=out, **options)
    return out.getvalue()


def test_it_loads_the_year_up_to_a_day_into_the_log_that_is_named_once():
    operator = an_operator()
    out = io.StringIO()
    call_command("demo", "--operator", "q1abc", "--today", "2026-05-01", stdout=out)
    assert "Q1ABC" in out.getvalue()
    assert Outing.objects.of(operator).count() == 24
    assert Outing.objects.latest("window_start").window_start.date().isoformat() == "2026-05-06"
    with pytest.raises(CommandError, match=r"already.*--remove --operator Q1ABC"):
        run(operator="Q1ABC")
    assert "out of the log" in run(operator="Q1ABC", remove=True)
    assert not Contact.everything.exists()
    with pytest.raises(CommandError, match="no demo scenario"):
        run(operator="Q1ABC", remove=True)


def test_without_a_name_it_makes_an_account_that_one_can_log_in_to():
    password = run().split("password ")[1].split()[0]
    assert Operator.objects.get(call_sign="Q0DEMO").check_password(password)
    assert Operator.objects.get().keeper
    assert "already" in run()
    assert DemoScenario.objects.count() == 1


def test_an_account_of_its_own_manages_nobody_where_others_were_first():
    an_operator(keeper=True)
    run()
    assert not Operator.objects.get(call_sign="Q0DEMO").keeper


def test_nobody_of_that_name_is_refused():
    with pytest.raises(CommandError, match="no account Q9NONE"):
        run(operator="Q9NONE")
    with pytest.raises(CommandError, match="no account Q9NONE"):
        run(operator="Q9NONE", remove=True)
