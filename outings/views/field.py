"""What a phone asks and hands in: JSON in, JSON out; an expired login is answered in words that the page can act on."""

from functools import wraps

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from outings.field import entries
from outings.intake import phone
from outings.models import Outing
from outings.queries import field as field_queries

VERSION = 1  # of what phone and server say to each other; an older page is told to load anew


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
    """The server's clock, whose log this is, and a fresh token for handing in."""
    return JsonResponse({
        "now": field_queries.moment(timezone.now()), "version": VERSION, "call_sign": request.user.call_sign,
        "token": get_token(request),
    })


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
    return JsonResponse(field_queries.on_board(found, timezone.now()))


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
    return JsonResponse({
        "now": field_queries.moment(now), "version": VERSION,
        "answers": [
            {"id": a.identity, "outcome": a.outcome, "reason": a.reason, "revision": a.revision, "conflict": a.conflict}
            for a in answers
        ],
    })
