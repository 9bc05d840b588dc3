"""The demo command, and the button that does the same."""

import io

import pytest
from django.core.management import CommandError, call_command

from outings.models import Contact, DemoScenario, Outing
from stationlog.models import Invitation, Operator
from tests.making import PASSWORD, an_operator

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
    assert not Operator.objects.get().keeper
    assert "already" in run()
    assert DemoScenario.objects.count() == 1


def test_who_has_looked_around_makes_an_account_of_their_own_with_the_set_up_code(client):
    password = run().split("password ")[1].split()[0]
    code = Invitation.objects.renew_set_up()
    page = client.get("/", follow=True).content.decode()
    assert "Make your account" in page and 'href="/login/"' in page
    assert client.post("/login/", {"username": "Q0DEMO", "password": password}).headers["Location"] == "/"
    assert "Demo" in client.get("/").content.decode()
    client.post("/logout/")
    client.post("/setup/", {
        "code": code, "call_sign": "Q1ABC", "name": "Robin", "units": "metric", "clock": "24", "password1": PASSWORD,
        "password2": PASSWORD,
    })
    assert Operator.objects.get(call_sign="Q1ABC").keeper
    assert client.get("/setup/").headers["Location"] == "/"


def test_nobody_of_that_name_is_refused():
    with pytest.raises(CommandError, match="no account Q9NONE"):
        run(operator="Q9NONE")
    with pytest.raises(CommandError, match="no account Q9NONE"):
        run(operator="Q9NONE", remove=True)
