"""Accounts: the first visit, invitations, logging in, preferences."""

from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from outings.models import Outing
from stationlog.models import Invitation, Operator
from tests.making import PASSWORD, an_invitation, an_operator

pytestmark = pytest.mark.django_db


def typed(**changes):
    """What somebody types who makes an account."""
    return {
        "call_sign": "q1abc", "name": "Robin Fielding", "home_grid": "jo62QM", "units": "imperial", "clock": "12",
        "password1": PASSWORD, "password2": PASSWORD, **changes,
    }


# --- the first visit ---------------------------------------------------------------------------------------------


def test_until_somebody_has_an_account_every_address_leads_to_the_set_up_page(client):
    for path in ("/", "/gear/", "/login/", "/account/", "/no-such-page/"):
        assert client.get(path).headers["Location"] == "/setup/", path
    assert client.post("/login/", {"username": "Q1ABC", "password": "x"}).headers["Location"] == "/setup/"
    assert client.get("/setup/").status_code == 200


def test_the_set_up_code_makes_the_first_account_which_manages_the_others(client):
    code = Invitation.objects.renew_set_up()
    response = client.post("/setup/", typed(code=code.lower().replace("-", " ")))
    assert response.headers["Location"] == "/"
    operator = Operator.objects.get()
    assert (operator.call_sign, operator.name, operator.home_grid) == ("Q1ABC", "Robin Fielding", "JO62qm")
    assert (operator.units, operator.clock, operator.keeper) == ("imperial", "12", True)
    assert operator.check_password(PASSWORD)
    assert client.get("/account/").status_code == 200, "logged in at once"


def test_the_first_account_can_begin_with_the_demo_scenario(client):
    code = Invitation.objects.renew_set_up()
    assert client.post("/setup/", typed(code=code, demo="on")).status_code == 302
    operator = Operator.objects.get()
    assert Outing.objects.of(operator).count() == 24
    assert "the demo scenario is in it" in client.get("/account/").text


def test_the_set_up_code_is_gone_after_use(client):
    code = Invitation.objects.renew_set_up()
    client.post("/setup/", typed(code=code))
    assert not Invitation.objects.exists()
    stranger = Client()
    assert stranger.get("/setup/").headers["Location"] == "/"
    assert stranger.post("/setup/", typed(code=code, call_sign="Q2DEF")).headers["Location"] == "/"
    assert Operator.objects.count() == 1


def test_a_wrong_set_up_code_is_refused_and_keeps_what_was_typed(client):
    Invitation.objects.renew_set_up()
    response = client.post("/setup/", typed(code="AAAA-BBBB-CCCC-DDDD"))
    assert response.status_code == 422
    assert "This is not the set-up code" in response.text
    assert "Robin Fielding" in response.text
    assert PASSWORD not in response.text
    assert not Operator.objects.exists()


def test_after_twenty_wrong_tries_the_right_set_up_code_is_void_too(client):
    code = Invitation.objects.renew_set_up()
    for _ in range(Invitation.TRIES):
        client.post("/setup/", typed(code="AAAA-BBBB-CCCC-DDDD"))
    response = client.post("/setup/", typed(code=code))
    assert response.status_code == 422
    assert "Stop the program and start it again" in response.text
    assert not Operator.objects.exists()


def test_a_new_set_up_code_makes_the_earlier_one_void(client):
    earlier = Invitation.objects.renew_set_up()
    later = Invitation.objects.renew_set_up()
    assert client.post("/setup/", typed(code=earlier)).status_code == 422
    assert client.post("/setup/", typed(code=later)).status_code == 302


def test_only_a_digest_of_the_code_is_stored():
    code = Invitation.objects.renew_set_up()
    row = Invitation.objects.values().get()
    assert code not in str(row)
    assert code.replace("-", "") not in str(row)
    assert len(code.replace("-", "")) == 16


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"call_sign": "Q1 ABC"}, "letters, digits and slashes only"),
        ({"call_sign": ""}, "required"),
        ({"name": ""}, "required"),
        ({"home_grid": "ZZ99"}, "A grid square has"),
        ({"home_grid": "JO6"}, "A grid square has"),
        ({"password2": "something else here"}, "match"),
        ({"password1": "short", "password2": "short"}, "too short"),
        ({"password1": "password123", "password2": "password123"}, "too common"),
        ({"units": "cubits"}, "Select a valid choice"),
    ],
)
def test_a_set_up_with_a_mistake_is_refused_and_the_code_stays_valid(client, changes, complaint):
    code = Invitation.objects.renew_set_up()
    response = client.post("/setup/", typed(code=code, **changes))
    assert response.status_code == 422
    assert complaint in response.text
    assert not Operator.objects.exists()
    assert client.post("/setup/", typed(code=code)).status_code == 302


# --- further operators -------------------------------------------------------------------------------------------


def test_an_invitation_makes_one_account_that_manages_nothing(client):
    code = an_invitation()
    assert client.get(f"/join/{code}/").status_code == 200
    assert client.post(f"/join/{code}/", typed()).headers["Location"] == "/"
    assert not Operator.objects.get(call_sign="Q1ABC").keeper
    assert client.get("/account/operators/").status_code == 403
    again = Client().post(f"/join/{code}/", typed(call_sign="Q2DEF"))
    assert again.status_code == 404
    assert "not valid" in again.text
    assert not Operator.objects.filter(call_sign="Q2DEF").exists()


def test_an_invitation_ends_after_its_days(client):
    code = an_invitation()
    Invitation.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert client.post(f"/join/{code}/", typed()).status_code == 404
    assert not Operator.objects.filter(call_sign="Q1ABC").exists()


def test_a_call_sign_that_has_an_account_is_refused_and_the_invitation_stays(client):
    an_operator("Q1ABC")
    code = an_invitation()
    assert client.post(f"/join/{code}/", typed()).status_code == 422
    assert client.post(f"/join/{code}/", typed(call_sign="Q2DEF")).status_code == 302


def test_a_made_up_invitation_and_the_set_up_code_are_no_invitations(client):
    an_operator()
    set_up = Invitation.objects.renew_set_up()
    for code in ("AAAA-BBBB-CCCC-DDDD", set_up, "x"):
        assert client.post(f"/join/{code}/", typed(call_sign="Q2DEF")).status_code == 404
    assert Operator.objects.count() == 1


def test_the_keeper_gets_the_link_of_an_invitation_once(client_of):
    client = client_of(an_operator(keeper=True))
    page = client.post("/account/operators/", {"note": "Q2DEF"}, follow=True).text
    link = page.split("<code>")[1].split("</code>")[0]
    assert link.startswith("http://testserver/join/")
    assert "<code>" not in client.get("/account/operators/").text
    assert "Q2DEF" in client.get("/account/operators/").text
    assert Client().post(link, typed(call_sign="Q2DEF")).status_code == 302
    assert Operator.objects.filter(call_sign="Q2DEF").exists()


def test_a_withdrawn_invitation_is_void(client_of, client):
    keeper = an_operator(keeper=True)
    code = an_invitation(keeper)
    client_of(keeper).post(f"/account/operators/invitations/{Invitation.objects.get().pk}/withdraw/")
    assert client.get(f"/join/{code}/").status_code == 404


def test_a_closed_account_is_logged_out_and_kept_out_until_it_is_opened_again(client_of):
    keeper, other = an_operator(keeper=True), an_operator("Q2DEF")
    client, theirs = client_of(keeper), client_of(other)
    client.post(f"/account/operators/{other.pk}/switch/", {"to": "closed"})
    assert theirs.get("/account/").status_code == 302
    assert theirs.post("/login/", {"username": "Q2DEF", "password": PASSWORD}).status_code == 200
    client.post(f"/account/operators/{other.pk}/switch/", {"to": "open"})
    assert theirs.post("/login/", {"username": "Q2DEF", "password": PASSWORD}).status_code == 302


def test_the_keeper_cannot_close_the_own_account(client_of):
    keeper = an_operator(keeper=True)
    assert client_of(keeper).post(f"/account/operators/{keeper.pk}/switch/", {"to": "closed"}).status_code == 404
    keeper.refresh_from_db()
    assert keeper.is_active


def test_only_the_keeper_manages_accounts(client_of, client):
    keeper, other = an_operator(keeper=True), an_operator("Q2DEF")
    an_invitation(keeper)
    writes = [
        "/account/operators/", f"/account/operators/{keeper.pk}/switch/",
        f"/account/operators/invitations/{Invitation.objects.get().pk}/withdraw/",
    ]
    for path in writes:
        assert client_of(other).post(path, {"note": "x", "to": "closed"}).status_code == 403, path
        assert client.post(path).headers["Location"].startswith("/login/"), path
    assert Invitation.objects.count() == 1
    keeper.refresh_from_db()
    assert keeper.is_active


# --- logging in --------------------------------------------------------------------------------------------------


def test_a_call_sign_logs_in_however_it_is_typed_and_comes_back_to_where_it_was_going(client):
    an_operator("Q1ABC")
    assert client.get("/account/").headers["Location"] == "/login/?next=/account/"
    response = client.post("/login/", {"username": " q1abc ", "password": PASSWORD, "next": "/account/"})
    assert response.headers["Location"] == "/account/"


def test_logging_in_leads_nowhere_outside(client):
    an_operator("Q1ABC")
    response = client.post("/login/", {"username": "Q1ABC", "password": PASSWORD, "next": "https://example.net/"})
    assert response.headers["Location"] == "/"


def test_a_wrong_password_and_an_unknown_call_sign_get_the_same_answer(client):
    an_operator("Q1ABC")
    answers = {
        client.post("/login/", {"username": call, "password": "not this one"}).context["form"].non_field_errors()[0]
        for call in ("Q1ABC", "Q2DEF")
    }
    assert answers == {"No account has this call sign and password. After several wrong tries you have to wait."}


def test_after_several_wrong_passwords_the_right_one_has_to_wait_too(client):
    an_operator("Q1ABC")
    an_operator("Q2DEF")
    spellings = ["Q1ABC", "q1abc", " Q1Abc"]
    for attempt in range(settings.AXES_FAILURE_LIMIT):
        client.post("/login/", {"username": spellings[attempt % 3], "password": "not this one"})
    response = client.post("/login/", {"username": "Q1ABC", "password": PASSWORD})
    assert response.status_code == 429
    assert "a quarter of an hour" in response.text
    assert client.post("/login/", {"username": "Q2DEF", "password": PASSWORD}).status_code == 302


def test_logging_out_needs_a_form_and_ends_the_session(client_of):
    client = client_of(an_operator())
    assert client.get("/logout/").status_code == 405
    assert client.post("/logout/").headers["Location"] == "/login/"
    assert client.get("/account/").status_code == 302


# --- the own account ---------------------------------------------------------------------------------------------


def test_preferences_are_kept(client_of):
    operator = an_operator()
    response = client_of(operator).post("/account/", {
        "name": "Robin F", "home_grid": "JO62QM12", "units": "imperial", "clock": "12", "theme": "red",
        "decimal_sign": ",", "paper": "Letter", "place_by_area": "on",
    })
    assert response.status_code == 302
    operator.refresh_from_db()
    assert operator.place_by_area
    assert (operator.name, operator.home_grid, operator.units) == ("Robin F", "JO62qm12", "imperial")
    assert (operator.clock, operator.theme, operator.paper) == ("12", "red", "Letter")
    assert operator.decimal_sign == ","


def test_contacts_without_a_grid_are_placed_only_where_that_is_wanted(client_of):
    operator = an_operator()
    assert not operator.place_by_area
    page = client_of(operator).get("/account/").text
    assert "Place contacts without a grid by their state or country" in page
    assert "GeoNames (geonames.org), CC BY 4.0" in page


def test_bad_preferences_are_refused_and_stay_in_the_form(client_of):
    operator = an_operator(theme="dark")
    response = client_of(operator).post("/account/", {
        "name": "Somebody Else", "home_grid": "nowhere", "units": "metric", "clock": "24", "theme": "auto",
        "decimal_sign": ".", "paper": "A4",
    })
    assert response.status_code == 422
    assert "A grid square has" in response.text
    assert "Somebody Else" in response.text
    assert 'data-theme="dark"' in response.text, "the page itself is not changed by what was refused"
    operator.refresh_from_db()
    assert operator.name == "Robin Fielding"


def test_preferences_cannot_make_a_keeper_or_change_the_call_sign(client_of):
    operator = an_operator()
    client_of(operator).post("/account/", {
        "name": "Robin", "units": "metric", "clock": "24", "decimal_sign": ".", "theme": "auto", "paper": "A4",
        "keeper": "on", "call_sign": "Q2DEF", "is_active": "",
    })
    operator.refresh_from_db()
    assert (operator.name, operator.call_sign, operator.keeper, operator.is_active) == ("Robin", "Q1ABC", False, True)


def test_the_theme_is_switched_and_leads_back(client_of):
    operator = an_operator()
    client = client_of(operator)
    assert client.post("/account/theme/", {"theme": "red", "next": "/gear/?q=x"}).headers["Location"] == "/gear/?q=x"
    elsewhere = client.post("/account/theme/", {"theme": "plaid", "next": "//example.net"})
    assert elsewhere.headers["Location"] == "/account/"
    operator.refresh_from_db()
    assert operator.theme == "red"
    assert 'data-theme="red"' in client.get("/account/").text


def test_a_password_is_changed_by_whoever_knows_the_old_one(client_of):
    operator = an_operator()
    here, elsewhere = client_of(operator), client_of(operator)
    new = "four guys and one peg"
    wrong = {"old_password": "not this one", "new_password1": new, "new_password2": new}
    assert here.post("/account/password/", wrong).status_code == 422
    assert here.post("/account/password/", wrong | {"old_password": PASSWORD}).status_code == 302
    assert here.get("/account/").status_code == 200
    assert elsewhere.get("/account/").status_code == 302, "other devices are logged out"
    operator.refresh_from_db()
    assert operator.check_password(new)
