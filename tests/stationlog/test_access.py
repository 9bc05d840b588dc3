"""Who reaches what: every address of the project, by a visitor without an account and by another operator."""

import uuid

import pytest
from django.apps import apps
from django.core.management.color import no_style
from django.db import connection
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests import making

OPEN = {"setup", "login", "logout", "join", "phone_enter", "outings:shared"}  # they explain themselves to a visitor
FRAMES = {  # the same for everybody and empty: a phone keeps them and fills them from its own store
    "outings:field", "outings:field_worker", "outings:field_manifest",
}
KEEPERS = {"operator_switch", "invitation_withdraw"}  # their ids are of accounts and invitations, which have no owner
FILLED = {"int": "1", "uuid": str(uuid.UUID(int=1)), "slug": "a-word", "str": "a-word", "path": "a/b"}


def routes(resolver=None, namespaces=(), converters=()):
    """Every named address, as (name with its namespaces, {argument: kind})."""
    for entry in (resolver or get_resolver()).url_patterns:
        own = {**dict(converters), **{k: type(v).__name__ for k, v in entry.pattern.converters.items()}}
        if isinstance(entry, URLResolver):
            inner = (*namespaces, entry.namespace) if entry.namespace else namespaces
            yield from routes(entry, inner, tuple(own.items()))
        else:
            assert isinstance(entry, URLPattern)
            assert entry.name, f"{entry.pattern} has no name"
            yield ":".join((*namespaces, entry.name)), {k: v.removesuffix("Converter").lower() for k, v in own.items()}
            unfillable = [k for k, v in own.items() if v.removesuffix("Converter").lower() not in known_kinds()]
            assert not unfillable, f"{entry.name} takes {unfillable}: say in FILLED with what to fill them here"


def known_kinds():
    return {*FILLED, "string"}


def address(name, arguments, number=FILLED["int"], identity=FILLED["uuid"]):
    values = {**FILLED, "int": number, "uuid": identity, "string": FILLED["str"]}
    return reverse(name, kwargs={argument: values[kind] for argument, kind in arguments.items()})


ROUTES = list(routes())


def test_no_two_addresses_of_the_same_arguments_share_a_name():
    names = [(name, *sorted(arguments)) for name, arguments in ROUTES]
    assert not {name for name in names if names.count(name) > 1}
    assert len(names) > 10


@pytest.mark.django_db
def test_a_visitor_without_an_account_is_sent_to_the_login_everywhere():
    making.an_operator()
    visitor = Client()
    for name, arguments in ROUTES:
        path = address(name, arguments)
        if name in OPEN:
            assert visitor.get(path).status_code in (200, 302, 404, 405), path
            continue
        for method in ("get", "post", "head", "delete"):
            answer = getattr(visitor, method)(path)
            if name in FRAMES:
                assert answer.status_code == (200 if method in ("get", "head") else 405), name
                assert answer.content == Client().get(path).content or method != "get", f"{name} differs for visitors"
            elif name.startswith("outings:field"):  # a phone reads JSON, and cannot follow a form
                assert answer.status_code in (401, 405), f"{name} answers a visitor with {answer.status_code}"
            else:
                assert answer.status_code == 302, f"{name} answers a visitor with {answer.status_code}"
                assert answer.headers["Location"].startswith("/login/?next="), name


def rows_of(owner):
    """Some of everything that an operator can own, made through tests.making."""
    outing = making.an_outing(owner)
    stint = making.a_stint(outing)
    making.a_contact(outing, stint=stint)
    making.a_fair_test(outing)
    making.a_reception_file(outing)
    making.a_power_setting(making.a_radio(owner))
    making.a_band_setting(making.an_arrangement(making.an_antenna(owner)))
    making.a_coil_tap(making.a_coil(making.an_antenna(owner)))
    making.a_reading(making.a_pack(owner))
    making.a_sweep(making.an_arrangement(making.an_antenna(owner)))
    making.a_pack_log(making.a_pack(owner, "Second pack"))
    making.a_feedline(owner)
    making.an_accessory(owner)
    making.a_shared_page("kit", making.a_kit(owner))


@pytest.mark.anywhere
@pytest.mark.django_db
def test_another_operators_rows_are_not_there_for_anybody_else(client_of):
    number_from_one()
    rows_of(making.an_operator("Q1ABC"))
    client = client_of(making.an_operator("Q2DEF"))
    ids = set()
    for model in (m for label in ("equipment", "outings") for m in apps.get_app_config(label).get_models()):
        known_by_uuid = any(field.name == "uuid" for field in model._meta.fields)
        for row in model._base_manager.order_by("-pk")[:2]:
            ids.add((str(row.pk), str(row.uuid) if known_by_uuid else FILLED["uuid"]))
    assert len(ids) > 1
    before = everything_kept()
    walked = 0
    for name, arguments in ROUTES:
        if not arguments or name in OPEN | FRAMES | KEEPERS or not ({*arguments.values()} & {"int", "uuid"}):
            continue
        for path in sorted({address(name, arguments, number, identity) for number, identity in ids}):
            for answer in (client.get(path), client.post(path, {"anything": "x"})):
                assert answer.status_code in (404, 403, 405), f"{path} ({name}) answers with {answer.status_code}"
                walked += 1
    assert walked or all(not arguments for name, arguments in ROUTES if name not in OPEN | KEEPERS)
    assert everything_kept() == before


def number_from_one():
    """Number the rows of all tables alike, whatever tests came before: few addresses then name rows of each of them."""
    sequences = [
        one for one in connection.introspection.sequence_list() if one["table"].startswith(("equipment_", "outings_"))
    ]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_by_name_sql(no_style(), sequences):
            cursor.execute(statement)


def everything_kept():
    """All rows of both apps, to see that a refused request changed none."""
    return {
        model._meta.label: sorted(map(str, model._base_manager.values()))
        for label in ("equipment", "outings") for model in apps.get_app_config(label).get_models()
    }
