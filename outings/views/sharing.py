"""Pages that others see by their address: what to share and how, the list of all of it, and the pages themselves."""

import itertools

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from equipment.numerals import decimals_after
from equipment.queries import packing_list, settings_by_band
from equipment.queries.kits import kit_weight
from outings.forms.sharing import ShareForm
from outings.models import Note, SharedPage
from outings.queries import report as report_queries
from outings.queries import stories

from .reports import asked

WORDS = {
    "outing": "the report of this outing", "arrangement": "the story of this arrangement",
    "antenna": "the story of this antenna", "radio": "the story of this radio", "pack": "the story of this pack",
    "kit": "this kit", "site": "this site", "note": "this note",
}


def listed(request, pages):
    """Pages with their whole addresses, as sharing/_pages.html shows them."""
    return [(page, request.build_absolute_uri(page.get_absolute_url())) for page in pages]


@require_safe
def sharing(request):
    """Everything that others see of this operator's by an address."""
    pages = SharedPage.objects.of(request.user).open().with_things()
    return render(request, "outings/sharing/list.html", {"pages": listed(request, pages), "named": True})


@require_http_methods(["GET", "HEAD", "POST"])
def share(request, kind, pk):
    """How one thing is shared, and one more address for it."""
    if kind not in SharedPage.KINDS:
        raise Http404
    model, column = SharedPage.KINDS[kind]
    thing = get_object_or_404(model.objects.of(request.user), pk=pk)
    form = ShareForm(request.POST or None, instance=SharedPage(owner=request.user, **{column: thing}))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Everybody who has the address can see the page now.")
        return redirect("outings:share", kind, pk)
    context = {
        "form": form, "thing": thing, "kind": kind, "word": WORDS[kind],
        "pages": listed(request, SharedPage.objects.of(request.user).open().showing(kind, thing)),
    }
    return render(request, "outings/sharing/share.html", context, status=422 if form.errors else 200)


@require_POST
def share_withdraw(request, pk):
    """End an address."""
    page = get_object_or_404(SharedPage.objects.of(request.user).open(), pk=pk)
    page.withdraw(timezone.now())
    messages.success(request, "The address leads nowhere any more.")
    return redirect("outings:sharing")


@login_not_required
@never_cache
@require_safe
def shared(request, token):
    """What somebody sees who was given an address: read only, without a way to anything else of the operator's."""
    page = SharedPage.objects.open().with_things().filter(token=token).first()
    if page is None:
        was_there = SharedPage.objects.filter(token=token).exists()
        answer = render(request, "outings/sharing/gone.html", status=410 if was_there else 404)
    else:
        if request.method == "GET" and request.user != page.owner:
            page.was_opened(timezone.now())
        with decimals_after(page.owner.decimal_sign):
            template, context, status = SHOWN[page.kind](request, page)
            context |= {
                "page": page, "operator": page.owner, "units": page.owner.units, "with_notes": page.with_notes,
                "thing": page.thing, "own": False,
            }
            answer = render(request, f"outings/sharing/{template}.html", context, status=status)
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    answer.headers["Referrer-Policy"] = "no-referrer"
    return answer


def report_shown(request, page):
    found, form = asked(request, page.outing)
    found = report_queries.for_others(found)
    context = {"outing": page.outing, "report": found, "night": form, "timeline": report_queries.timeline(found)}
    return "report", context, 422 if form.errors else 200


def story_shown(request, page):
    story = stories.for_others(stories.story(page.owner, page.kind, page.thing))
    notes = Note.objects.of(page.owner).about(page.thing) if page.with_notes else ()
    return "story", {"kind": page.kind, "story": story, "notes": notes}, 200


def kit_shown(request, page):
    lines = packing_list(page.kit)
    context = {
        "lines": lines, "weight": kit_weight(lines), "covers": settings_by_band(page.kit),
        "arrangements": page.kit.arrangements.in_use().select_related("antenna", "feedline"),
    }
    return "kit", context, 200


def site_shown(request, page):
    return "site", {"site": page.site}, 200


def note_shown(request, page):
    ties = itertools.chain(
        (f"{one.antenna}: {one}" for one in page.note.arrangements.select_related("antenna")),
        map(str, page.note.packs.all()), map(str, page.note.radios.all()),
    )
    return "note", {"ties": list(ties)}, 200


SHOWN = {
    "outing": report_shown, "arrangement": story_shown, "antenna": story_shown, "radio": story_shown,
    "pack": story_shown, "kit": kit_shown, "site": site_shown, "note": note_shown,
}
