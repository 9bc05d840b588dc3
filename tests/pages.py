"""Every page as an operator sees it: an address for each route, with rows in it, and a log that is hard to set.

`walk(owner)` gives (route, address) of each route that answers with a page; `a_log_of_long_names()` is worth walking.
"""

import datetime

from django.apps import apps
from django.db.models import Count
from django.test import Client
from django.urls import reverse

from equipment.models import Arrangement, Coil, Item, Kit, PowerSetting
from outings.demo import loading
from outings.models import Contact, Note, Outing, SharedPage, Site
from tests import making
from tests.stationlog.test_access import FRAMES, ROUTES

WORDS = {"guide_chapter": "packs", "equipment:item_new": "antenna", "outings:share": "site"}  # else the word is this:
WORD = "arrangement"
NO_PAGES = FRAMES | {"login", "logout", "setup", "join", "phone_enter"}  # what they show needs no account
MOST = {"outing": "contacts", "arrangement": "stints", "pack": "readings", "contact": "conflicts"}  # the richest counts


def rows_of(owner):
    """{model name: row} of an operator: of each model the newest, or the one with the most that belongs to it."""
    found = {}
    for label in ("equipment", "outings", "stationlog"):
        for model in apps.get_app_config(label).get_models():
            if any(field.name in ("owner", "outing") for field in model._meta.fields):
                mine = {"owner": owner} if hasattr(model, "owner") else {"outing__owner": owner}
                name = model.__name__.lower()
                rows = model._base_manager.filter(**mine).order_by("-pk")
                if name in MOST:
                    rows = rows.annotate(most=Count(MOST[name])).order_by("-most", "-pk")
                found[name] = rows.first()
    return {name: row for name, row in found.items() if row is not None}


def filled(name, arguments, rows, row):
    """What a route's arguments are with this row for its first number, and rows of the outing for the second."""
    values = {}
    for argument, kind in arguments.items():
        if kind == "int" and not values.keys() - {"kind", "chapter"}:
            values[argument] = row.pk
        elif kind == "int":
            of_outing = [other for word, other in rows.items() if argument.removesuffix("_pk") in word]
            values[argument] = of_outing[0].pk if of_outing else 0
        elif kind == "uuid":
            values[argument] = getattr(row, "uuid", None) or "00000000-0000-0000-0000-000000000001"
        else:
            values[argument] = WORDS.get(name, WORD)
    return values


def walk(owner):
    """(route, address) of every route that answers this operator with a page."""
    client, rows = Client(), rows_of(owner)
    client.force_login(owner)
    for name, arguments in ROUTES:
        if name in NO_PAGES:
            continue
        word = name.rpartition(":")[2].replace("_", "")
        likely = sorted(rows, key=lambda model, word=word: (not word.startswith(model), model != "outing", model))
        for row in [rows[model] for model in likely] if "int" in arguments.values() else [None]:
            path = reverse(name, kwargs=filled(name, arguments, rows, row))
            answer = client.get(path)
            if answer.status_code == 200 and b"<main" in getattr(answer, "content", b""):
                yield name, path
            if answer.status_code in (200, 405):
                break
    for page in SharedPage.objects.of(owner).open():
        yield f"shared {page.kind}", page.get_absolute_url()


LONGEST_CALL = "QM9/Q1ABCDEF/QRPP"
LONG = (  # of about 60 characters each, in several scripts and directions, with and without places to break
    "Schilfuferlangdrahtantennenabspannseilverlängerungshalterung {}",
    "Reed Point, the shore below the old ferry house, second pole {}",
    "Ветроустойчивая наклонная проволока на мачте у старой пристани {}",
    "חוט ארוך ליד החוף הצפוני של האגם הגדול, על תורן מתקפל שני {}",
    "سلك طويل بجانب شاطئ البحيرة الكبيرة على سارية قابلة للطي {}",
    "岬の先の松林に張った長い逆V形ワイヤー空中線と折りたたみ式の支柱、第二案、低い方、夏の配置、北向き {}",
    "W" * 60 + " {}",
)


def long_name(number):
    return LONG[number % len(LONG)].format(number)


def a_log_of_long_names():
    """The demo scenario, and one of what it lacks, of an operator who gives everything a long name."""
    owner = making.an_operator(LONGEST_CALL, name=long_name(1))
    loading.load(owner, datetime.date(2026, 11, 25))
    outing = Outing.objects.of(owner).annotate(most=Count("contacts")).order_by("-most").first()
    making.a_fair_test(outing)
    making.a_reception_file(outing)
    making.a_remark(outing, text=long_name(2))
    making.a_member(outing, making.an_operator("Q2DEF", name=long_name(3)))
    making.a_paired_phone(owner, long_name(4))
    making.an_invitation(owner, long_name(5))
    for model, column in (
        (Item, "name"), (Arrangement, "name"), (Kit, "name"), (Coil, "name"), (Site, "name"), (Outing, "title"),
        (Note, "title"),
    ):
        rows = list(model.objects.of(owner).order_by("pk"))
        for number, row in enumerate(rows):
            setattr(row, column, long_name(number))
        model.objects.bulk_update(rows, [column])
    PowerSetting.objects.filter(radio__owner=owner).update(label=long_name(1)[:40])
    Outing.objects.of(owner).update(station_call=LONGEST_CALL)
    few = Contact.objects.of(owner).order_by("-started_at")[:100].values("pk")
    Contact.objects.filter(pk__in=list(few.values_list("pk", flat=True))).update(
        call="QM9/Q2ABCDEF/QRPP", name=long_name(0), qth=long_name(3)
    )
    for kind, (model, _) in SharedPage.KINDS.items():
        making.a_shared_page(kind, model.objects.of(owner).first(), with_notes=True)
    return owner
