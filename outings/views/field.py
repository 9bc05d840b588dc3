"""What a phone asks and hands in: JSON in, JSON out; an expired login is answered in words that the page can act on."""

import contextlib
import hashlib
import json
import uuid
from functools import cache, wraps
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import Http404, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from outings.field import entries
from outings.intake import phone
from outings.models import FieldEntry, Outing
from outings.queries import field as field_queries

HANDED_IN_BY = "field_phone"  # in the session: the UUID of the phone that handed in last
VERSION = 1  # of what phone and server say to each other; an older page is told to load anew

MODULES = (
    "adif", "air", "counters", "day", "fair_test", "hand_in", "home", "keep", "log", "measure", "outing", "page",
    "place", "ready", "screen", "state", "words",
)
HASHED = (
    "stationlog.css", "field/field.css", "mark.svg", "field/icon-192.png", "vendor/b612-400-5.3.0.woff2",
    "vendor/b612-700-5.3.0.woff2", "vendor/atkinson-hyperlegible-mono-400-5.3.0.woff2",
    "vendor/atkinson-hyperlegible-mono-700-5.3.0.woff2",
)
PLAIN = (*(f"field/{name}.js" for name in MODULES), "vendor/idb-8.0.4.js")  # modules import each other by plain names
TEMPLATES = ("page.html", "worker.js")


@cache
def version():
    """What the worker keeps, as a short hash: another one makes phones fetch everything anew."""
    found = hashlib.sha256()
    for name in (*HASHED, *PLAIN):
        found.update(Path(finders.find(name)).read_bytes())
    for name in TEMPLATES:
        found.update((settings.BASE_DIR / "templates/outings/field" / name).read_bytes())
    return found.hexdigest()[:16]


def parts():
    """The addresses that the worker keeps."""
    plain = [f"/{settings.STATIC_URL.strip('/')}/{name}" for name in PLAIN]
    return [reverse("outings:field"), *(static(name) for name in HASHED), *plain]


@login_not_required
@require_safe
def page(request):
    """The field page: an empty frame that the phone fills from its own store, so it needs no login to open."""
    return render(request, "outings/field/page.html", {
        "version": version(), "static_root": f"/{settings.STATIC_URL.strip('/')}/", "modules": PLAIN,
    })


@login_not_required
@never_cache
@require_safe
def worker(request):
    """The service worker; its scope is the field page, since that is where it is served from."""
    script = render_to_string("outings/field/worker.js", {"version": version(), "parts": json.dumps(parts())})
    return HttpResponse(script, content_type="text/javascript; charset=utf-8")


@login_not_required
@require_safe
def manifest(request):
    """What the phone needs to put the page on its home screen."""
    icons = [
        {"src": static(f"field/icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
        for size in (192, 512) for purpose in ("any", "maskable")
    ]
    return JsonResponse({
        "name": "stationlog in the field", "short_name": "stationlog", "start_url": reverse("outings:field"),
        "scope": reverse("outings:field"), "display": "standalone", "background_color": "#f3eee1",
        "theme_color": "#fdfaf1", "icons": icons,
    }, content_type="application/manifest+json")


def for_phones(view):
    """A logged-in operator, or 401 in JSON: a redirect to a login page would look like success to a script."""

    @login_not_required
    @never_cache
    @wraps(view)
    def guarded(request, *args, **kwargs):
        if not request.user.is_authenticated:
            reason = "Log in again; nothing on the phone is lost."
            return JsonResponse({"problem": "login", "reason": reason}, status=401)
        return view(request, *args, **kwargs)

    return guarded


@for_phones
@require_safe
def hello(request):
    """The server's clock, whose log this is, a fresh token for handing in, and whether what it took last is still here.

    `?newest=` names that entry by its UUID; after an older backup was brought back it is not.
    """
    answer = {
        "now": field_queries.moment(timezone.now()), "version": VERSION, "call_sign": request.user.call_sign,
        "token": get_token(request),
    }
    with contextlib.suppress(ValueError):
        newest = uuid.UUID(request.GET.get("newest", ""))
        answer["has"] = FieldEntry.objects.of(request.user).filter(identity=newest).exists()
    return JsonResponse(answer)


@for_phones
@require_safe
def outings(request):
    """The outings that a phone would take along."""
    found = field_queries.field_outings(request.user, timezone.now())
    return JsonResponse({"outings": [field_queries.outing_data(one) for one in found]})


@for_phones
@require_safe
def outing(request, identity):
    """Everything of one outing that is needed offline."""
    found = Outing.objects.open_to(request.user).select_related("site", "kit").filter(uuid=identity).first()
    if found is None:
        raise Http404("no such outing")
    return JsonResponse(field_queries.on_board(found, timezone.now(), request.user))


@for_phones
@require_POST
def hand_in(request):
    """Take entries; the answer names for each what became of it, and is given only after all is stored."""
    try:
        asked = entries.read_request(request.body)
    except entries.BadEntry as problem:
        return JsonResponse({"problem": "request", "reason": str(problem)}, status=400)
    now = timezone.now()
    answers = phone.hand_in(request.user, asked, now=now)
    if request.session.get(HANDED_IN_BY) != str(asked.phone):
        request.session[HANDED_IN_BY] = str(asked.phone)
    return JsonResponse({
        "now": field_queries.moment(now), "version": VERSION,
        "answers": [
            {"id": a.identity, "outcome": a.outcome, "reason": a.reason, "revision": a.revision, "conflict": a.conflict}
            for a in answers
        ],
    })
