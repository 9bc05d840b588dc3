"""Who reaches what: every address of the project, by a visitor without an account and by another operator."""

import uuid

import pytest
from django.apps import apps
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests import making

OPEN = {"setup", "login", "logout", "join"}  # they explain themselves to a visitor
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


def address(name, arguments, number="1"):
    values = {**FILLED, "int": number, "string": FILLED["str"]}
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
        for answer in (visitor.get(path), visitor.post(path), visitor.head(path), visitor.delete(path)):
            assert answer.status_code == 302, f"{name} answers a visitor with {answer.status_code}"
            assert answer.headers["Location"].startswith("/login/?next="), name


def rows_of(owner):
    """Some of everything that an operator can own, made through tests.making."""
    outing = making.an_outing(owner)
    stint = making.a_stint(outing)
    making.a_contact(outing, stint=stint)
    making.a_power_setting(making.a_radio(owner))
    making.a_band_setting(making.an_arrangement(making.an_antenna(owner)))
    making.a_reading(making.a_pack(owner))
    making.a_feedline(owner)
    making.an_accessory(owner)
    making.a_kit(owner)


@pytest.mark.django_db
def test_another_operators_rows_are_not_there_for_anybody_else(client_of):
    rows_of(making.an_operator("Q1ABC"))
    client = client_of(making.an_operator("Q2DEF"))
    numbers = {"1"}
    for model in (m for label in ("equipment", "outings") for m in apps.get_app_config(label).get_models()):
        numbers |= {str(pk) for pk in model._base_manager.values_list("pk", flat=True)}
    assert len(numbers) > 1
    before = everything_kept()
    walked = 0
    for name, arguments in ROUTES:
        if not arguments or name in OPEN | KEEPERS or not ({*arguments.values()} & {"int", "uuid"}):
            continue
        for number in sorted(numbers):
            path = address(name, arguments, number)
            for answer in (client.get(path), client.post(path, {"anything": "x"})):
                assert answer.status_code in (404, 403, 405), f"{path} ({name}) answers with {answer.status_code}"
                walked += 1
    assert walked or all(not arguments for name, arguments in ROUTES if name not in OPEN | KEEPERS)
    assert everything_kept() == before


def everything_kept():
    """All rows of both apps, to see that a refused request changed none."""
    return {
        model._meta.label: sorted(map(str, model._base_manager.values()))
        for label in ("equipment", "outings") for model in apps.get_app_config(label).get_models()
    }
