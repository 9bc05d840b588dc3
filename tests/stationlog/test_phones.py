"""Pairing phones: the code and who may use it, the list, unpairing, and cookies for both kinds of address."""

import datetime
import html
import json
import re
import uuid

import pytest
from django.conf import settings
from django.db import DatabaseError
from django.test import Client
from django.utils import timezone

from outings.models import FieldEntry
from stationlog.management.commands.start import door_lines
from stationlog.models import PhonePairing
from stationlog.phones import door
from stationlog.views import phones
from tests.making import PASSWORD, a_paired_phone, a_phone_token, an_operator

pytestmark = pytest.mark.django_db

ORIGIN = "https://quiet-box.local:8443"
SERVED = door.Served("quiet-box.local", ("192.168.5.20",), 8443, "AB:CD")
IPHONE = (
    "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 "
    "Mobile/15E148 Safari/604.1"
)
ANDROID = (
    "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/139.0.0.0 Mobile Safari/537.36"
)


@pytest.fixture
def served(monkeypatch):
    """The program was started for phones."""
    monkeypatch.setattr(door, "open_now", lambda folder: SERVED)


def enter(token, client=None, **options):
    return (client or Client()).post(f"/pair/{token}/", **options)


def logged_in(client):
    return "_auth_user_id" in client.session


def test_started_for_this_computer_alone_the_page_says_what_to_do(client_of):
    client = client_of(an_operator())
    page = client.get("/account/phones/").content.decode()
    assert "manage.py start --phone" in page and "Show a code" not in page
    assert client.post("/account/phones/", {"origin": ORIGIN}).status_code == 422
    assert not PhonePairing.objects.exists()


def test_the_page_shows_a_code_once_that_logs_a_phone_in_and_leads_to_the_field_page(client_of, served):
    operator = an_operator()
    client = client_of(operator)
    page = client.get("/account/phones/").content.decode()
    assert page.index(f'value="{ORIGIN}"') < page.index('value="https://192.168.5.20:8443"')
    assert "AB:CD" in page and "http://192.168.5.20:8444/" in page
    page = client.post("/account/phones/", {"origin": ORIGIN}).content.decode()
    assert 'src="data:image/svg+xml' in page
    link = re.search(rf"{ORIGIN}(/pair/[^/<]+/)", html.unescape(page))[1]
    assert link.split("/")[2] not in "".join(map(str, PhonePairing.objects.values().get().values())), "a digest only"
    assert link not in client.get("/account/phones/").content.decode()

    phone = Client(HTTP_USER_AGENT=IPHONE)
    asked = phone.get(link)
    assert asked.status_code == 200 and "Q1ABC" in asked.content.decode()
    assert not logged_in(phone), "looking at the address changes nothing"
    answer = phone.post(link)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/field/")
    assert phone.get("/field/hello/").json()["call_sign"] == "Q1ABC"
    assert phone.session.get_expiry_age() > 360 * 24 * 3600
    paired = PhonePairing.objects.get()
    assert (paired.device, paired.origin, paired.operator) == ("iPhone, Safari", ORIGIN, operator)
    assert "iPhone, Safari" in client.get("/account/phones/").content.decode()


def test_the_picture_holds_the_address_that_is_written_beside_it(client_of, served):
    import segno

    page = client_of(an_operator()).post("/account/phones/", {"origin": ORIGIN}).content.decode()
    link = re.search(rf"{ORIGIN}/pair/[^/<]+/", html.unescape(page))[0]
    picture = re.search(r'src="(data:image/svg\+xml[^"]+)"', page)[1]
    assert html.unescape(picture) == segno.make(link, error="m").svg_data_uri(
        scale=6, border=4, dark="#000", light="#fff"
    )


def test_a_code_works_once(client_of):
    token = a_phone_token()
    assert enter(token).status_code == 302
    second = Client()
    assert second.get(f"/pair/{token}/").status_code == 404
    assert enter(token, second).status_code == 404 and not logged_in(second)


def test_of_two_who_scan_at_the_same_moment_one_gets_in():
    token = a_phone_token()
    first, second = (PhonePairing.objects.with_token(token).get() for _ in range(2))
    assert first.use("one", timezone.now()) and not second.use("two", timezone.now())
    assert PhonePairing.objects.get().device == "one"


def test_a_code_works_for_ten_minutes():
    now = timezone.now()
    token = a_phone_token(at=now - PhonePairing.LIFETIME)
    assert datetime.timedelta(minutes=10) == PhonePairing.LIFETIME
    phone = Client()
    assert phone.get(f"/pair/{token}/").status_code == 404
    assert enter(token, phone).status_code == 404 and not logged_in(phone)
    still = PhonePairing.objects.make(PhonePairing.objects.get().operator, ORIGIN, now - PhonePairing.LIFETIME * 0.8)
    assert enter(still, phone).status_code == 302


def test_a_further_code_voids_the_one_before_and_no_phone():
    operator = an_operator()
    a_paired_phone(operator)
    first = a_phone_token(operator)
    second = a_phone_token(operator)
    others = a_phone_token(an_operator("Q2DEF"))
    assert enter(first).status_code == 404
    assert enter(second).status_code == 302 and enter(others).status_code == 302
    assert PhonePairing.objects.of(operator).paired().count() == 2


def test_a_closed_account_takes_no_phone_and_loses_those_it_had(client_of):
    operator = an_operator()
    token = a_phone_token(operator)
    phone = Client()
    enter(token, phone)
    waiting = a_phone_token(operator)
    operator.switch(False)
    assert enter(waiting).status_code == 404
    assert phone.get("/field/hello/").status_code == 401


def test_guessing_is_stopped_even_with_the_right_code(settings):
    token = a_phone_token()
    guesser = Client(REMOTE_ADDR="192.168.5.66")
    for number in range(settings.AXES_FAILURE_LIMIT):
        answer = guesser.get(f"/pair/guess-{number}/")
    assert answer.status_code == 404 or answer.status_code == 429
    assert guesser.get(f"/pair/{token}/").status_code == 429
    assert enter(token, guesser).status_code == 429 and not logged_in(guesser)
    assert enter(token, Client(REMOTE_ADDR="192.168.5.67")).status_code == 302, "other phones are not affected"
    login = {"username": "Q1ABC", "password": PASSWORD}
    assert guesser.post("/login/", login).status_code == 302, "nor is the password"


def test_a_post_from_another_site_is_refused():
    token = a_phone_token()
    phone = Client(enforce_csrf_checks=True)
    phone.get(f"/pair/{token}/")
    assert enter(token, phone).status_code == 403 and not logged_in(phone)
    own = {"csrfmiddlewaretoken": phone.cookies["csrftoken"].value}
    foreign = phone.post(f"/pair/{token}/", own, headers={"origin": "https://elsewhere.example"}, secure=True)
    assert foreign.status_code == 403 and not logged_in(phone)
    assert phone.post(f"/pair/{token}/", own, headers={"origin": "https://testserver"}, secure=True).status_code == 302


def test_an_address_that_is_not_ours_is_refused_and_said(client_of, served):
    answer = client_of(an_operator()).post("/account/phones/", {"origin": "https://elsewhere.example"})
    assert answer.status_code == 422 and "not reached under that address" in answer.content.decode()
    assert not PhonePairing.objects.exists()


def test_unpairing_ends_the_session_of_that_phone_alone(client_of):
    operator = an_operator()
    laptop, phone, other = client_of(operator), Client(), Client()
    enter(a_phone_token(operator), phone)
    first = PhonePairing.objects.get()
    enter(a_phone_token(operator), other)
    assert laptop.post(f"/account/phones/{first.pk}/unpair/").headers["Location"] == "/account/phones/"
    assert phone.get("/field/hello/").status_code == 401
    assert not logged_in(phone)
    assert other.get("/field/hello/").status_code == laptop.get("/field/hello/").status_code == 200


def test_nobody_else_unpairs_a_phone(client_of):
    phone = a_paired_phone(an_operator())
    path = f"/account/phones/{phone.pk}/unpair/"
    assert Client().post(path).headers["Location"].startswith("/login/")
    stranger = client_of(an_operator("Q2DEF", keeper=True))
    assert stranger.post(path).status_code == 404
    assert stranger.get(path).status_code == 405
    assert "iPhone" not in stranger.get("/account/phones/").content.decode()
    assert PhonePairing.objects.paired().count() == 1


def test_a_code_that_waits_is_no_phone_to_unpair(client_of):
    operator = an_operator()
    a_phone_token(operator)
    waiting = PhonePairing.objects.get()
    assert client_of(operator).post(f"/account/phones/{waiting.pk}/unpair/").status_code == 404


def test_it_is_noted_when_a_phone_was_last_seen_but_not_at_every_request(client_of):
    phone = Client()
    enter(a_phone_token(), phone)
    PhonePairing.objects.update(seen_at=timezone.now() - datetime.timedelta(hours=5))
    phone.get("/field/hello/")
    seen = PhonePairing.objects.get().seen_at
    assert timezone.now() - seen < datetime.timedelta(minutes=1)
    phone.get("/field/hello/")
    assert PhonePairing.objects.get().seen_at == seen


def test_the_same_phone_paired_again_is_in_the_list_once(client_of):
    operator = an_operator()
    phone = Client()
    for _ in range(2):
        enter(a_phone_token(operator), phone)
    assert PhonePairing.objects.get().paired_at and logged_in(phone)


def test_logging_out_on_the_phone_and_a_new_password_end_pairings(client_of):
    operator = an_operator()
    phone, other = Client(), Client()
    enter(a_phone_token(operator), phone)
    enter(a_phone_token(operator), other)
    phone.get("/logout/")
    assert PhonePairing.objects.count() == 2
    phone.post("/logout/")
    assert PhonePairing.objects.count() == 1 and not logged_in(phone)
    typed = {"old_password": PASSWORD, "new_password1": "four loose guy lines", "new_password2": "four loose guy lines"}
    assert client_of(operator).post("/account/password/", typed).status_code == 302
    assert not PhonePairing.objects.exists()
    assert other.get("/field/hello/").status_code == 401


# --- addresses ---------------------------------------------------------------------------------------------------


def test_a_phone_that_knows_the_computer_by_an_old_address_is_told_of_on_the_page_and_at_start(client_of, served):
    operator = an_operator()
    a_paired_phone(operator, origin="https://old-box.local:8443")
    a_paired_phone(operator, origin=ORIGIN)
    page = client_of(operator).get("/account/phones/").content.decode()
    assert "A phone knows this computer by another address" in page and "not reached there now" in page
    said = "\n".join(door_lines(SERVED, 8000))
    assert "https://old-box.local:8443, where this computer is not reached" in said
    assert "before you leave home" in said and "http://127.0.0.1:8000/account/phones/" in said
    assert "start with --phone" in "\n".join(door_lines(None, 8000))


def test_with_phones_that_know_the_right_address_nothing_is_said(client_of, served):
    operator = an_operator()
    a_paired_phone(operator, origin=ORIGIN)
    assert "another address" not in client_of(operator).get("/account/phones/").content.decode()
    assert "not reached" not in "\n".join(door_lines(SERVED, 8000))
    PhonePairing.objects.all().delete()
    assert door_lines(None, 8000) == []


def test_behind_a_proxy_the_name_that_works_here_is_the_one_for_the_phone(client_of, settings):
    settings.ALLOWED_HOSTS = ["log.example.net"]
    settings.HTTPS = True
    client = client_of(operator := an_operator())
    options = {"secure": True, "headers": {"host": "log.example.net"}}
    page = client.get("/account/phones/", **options).content.decode()
    assert 'value="https://log.example.net"' in page and "Certificate Trust Settings" not in page
    page = client.post("/account/phones/", {"origin": "https://log.example.net"}, **options).content.decode()
    assert "https://log.example.net/pair/" in page
    a_paired_phone(operator, origin="https://log.example.net")
    assert door_lines(None, 8000) == []


def test_the_certificate_can_be_saved_by_whoever_is_logged_in(client_of, tmp_path, settings, monkeypatch):
    client = client_of(an_operator())
    settings.DATA_DIR = tmp_path
    assert client.get("/account/phones/certificate/").status_code == 404
    monkeypatch.setattr(door.network, "local_name", lambda: "quiet-box.local")
    opened = door.Door(tmp_path, 8443)
    opened.refresh(timezone.now())
    answer = client.get("/account/phones/certificate/")
    assert answer.content == opened.authority.der and "stationlog.crt" in answer.headers["Content-Disposition"]
    assert Client().get("/account/phones/certificate/").status_code == 302


def test_cookies_are_secure_over_https_and_not_on_loopback():
    an_operator()
    for secure in (True, False):
        client = Client()
        page = client.get("/login/", secure=secure)
        assert bool(page.cookies["csrftoken"]["secure"]) is secure
        answer = client.post("/login/", {"username": "Q1ABC", "password": PASSWORD}, secure=secure)
        assert answer.status_code == 302
        cookie = answer.cookies[settings.SESSION_COOKIE_NAME]
        assert bool(cookie["secure"]) is secure and cookie["httponly"] and cookie["samesite"] == "Lax"
        assert "Strict-Transport-Security" not in answer.headers, "the certificate's page under this name is plain"


@pytest.mark.parametrize(
    ("said", "name"),
    [
        (IPHONE, "iPhone, Safari"),
        (ANDROID, "Android, Chrome"),
        (ANDROID.replace("Chrome/", "SamsungBrowser/28.0 Chrome/"), "Android, Samsung Internet"),
        ("Mozilla/5.0 (Android 14; Mobile; rv:128.0) Gecko/128.0 Firefox/128.0", "Android, Firefox"),
        (IPHONE.replace("Version/18.5", "CriOS/139.0"), "iPhone, Chrome"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 Version/18.5 Safari/605.1.15",
         "Mac, Safari"),
        ("<script>alert(1)</script>", ""),
        ("", ""),
    ],
)
def test_a_phone_is_named_by_what_its_browser_says(rf, said, name):
    assert phones.device(rf.get("/", headers={"user-agent": said})) == name


def test_the_list_of_phones_costs_the_same_for_one_and_for_many(client_of, served, django_assert_max_num_queries):
    operator = an_operator()
    client = client_of(operator)
    a_paired_phone(operator)
    with django_assert_max_num_queries(4):
        client.get("/account/phones/")
    for _ in range(5):
        a_paired_phone(operator)
    with django_assert_max_num_queries(4):
        client.get("/account/phones/")


# --- what a phone is called, and when it handed in ------------------------------------------------------------------


def hand_in(phone, identity):
    asked = {"phone": str(identity), "now": "2026-05-01T14:06:00Z", "entries": []}
    return phone.post("/field/hand-in/", json.dumps(asked), content_type="application/json")


def a_field_entry(operator, identity):
    return FieldEntry.objects.create(
        owner=operator, identity=uuid.uuid4(), phone=identity, kind="contact", action="put",
        subject=uuid.uuid4(), seq=1,
        edited_at=timezone.now(), values={}, outcome="taken",
    )


def test_a_pairing_knows_which_phone_hands_in_and_when_it_last_did(client_of):
    operator, phone, identity = an_operator(), Client(HTTP_USER_AGENT=IPHONE), uuid.uuid4()
    client = client_of(operator)
    enter(a_phone_token(operator), phone)
    assert "not yet" in client.get("/account/phones/").content.decode()
    assert hand_in(phone, identity).status_code == 200
    entry = a_field_entry(operator, identity)
    assert PhonePairing.objects.get().phone == identity
    page = client.get("/account/phones/").content.decode()
    assert f"{entry.received_at:%Y-%m-%d %H:%M} UTC" in page and "not yet" not in page


def test_what_is_handed_in_counts_though_the_disk_does_not_take_the_name_of_the_phone(monkeypatch):
    def refused(self, phone):
        raise DatabaseError("database or disk is full")

    operator, phone = an_operator(), Client(HTTP_USER_AGENT=IPHONE)
    enter(a_phone_token(operator), phone)
    monkeypatch.setattr(PhonePairing, "hears_from", refused)
    assert hand_in(phone, uuid.uuid4()).status_code == 200


def test_a_phone_is_called_what_its_operator_says_and_keeps_the_name_when_paired_anew(client_of):
    operator, identity = an_operator(), uuid.uuid4()
    client, phone, wiped = client_of(operator), Client(HTTP_USER_AGENT=IPHONE), Client(HTTP_USER_AGENT=IPHONE)
    enter(a_phone_token(operator), phone)
    hand_in(phone, identity)
    path = f"/account/phones/{PhonePairing.objects.get().pk}/name/"
    assert client.post(path, {"name": "n" * 41}).status_code == 302 and not PhonePairing.objects.get().name
    assert client.post(path, {"name": "Glove box"}).status_code == 302
    assert "Glove box" in client.get("/account/phones/").content.decode()
    enter(a_phone_token(operator), phone)
    assert PhonePairing.objects.get().name == "Glove box", "the same phone, with its old session"
    enter(a_phone_token(operator), wiped)
    hand_in(wiped, identity)
    assert PhonePairing.objects.get().name == "Glove box", "the same phone, whose session was lost"


def test_nobody_else_names_a_phone(client_of):
    phone = a_paired_phone(an_operator())
    path = f"/account/phones/{phone.pk}/name/"
    assert Client().post(path, {"name": "Mine"}).headers["Location"].startswith("/login/")
    assert client_of(an_operator("Q2DEF")).post(path, {"name": "Mine"}).status_code == 404
    assert PhonePairing.objects.get().name == ""
