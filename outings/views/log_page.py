"""The page of an outing's log and its pieces: built in one place for the views of contacts and of stints."""

from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from outings import dial
from outings.adif import tables
from outings.forms.log import EntryForm, StraysForm
from outings.forms.stints import USUAL_MODES, BeginForm, ChangeForm, WhenForm
from outings.models import Outing
from outings.queries import fair_tests
from outings.queries import log as queries

# What may have changed beside a piece; never the row to type into, nor another form that may be half filled.
BESIDE = {
    "entry": ("figures", "strays", "contacts", "counts"),
    "contacts": ("figures", "strays", "counts", "undo"),
    "strays": ("figures", "contacts", "counts"),
    "on_air": ("figures", "entry_stint", "strays", "contacts", "stints"),
    "stints": ("figures", "entry_stint", "strays", "contacts", "on_air"),
}


def outings_of(operator):
    """The outings whose log an operator keeps, one's own and those joined, with what the page needs of each."""
    return Outing.objects.open_to(operator).select_related("site", "kit", "owner")


def address(outing, *, paper=False):
    return reverse("outings:log", args=[outing.pk]) + ("?paper=1" if paper else "")


def paper_of(request):
    """Whether a log kept on paper is being entered."""
    return (request.POST.get("paper") or request.GET.get("paper")) == "1"


def remembered(request, outing):
    """What the next row takes over, kept for this browser."""
    return request.session.get("log", {}).get(str(outing.pk), {})


def remember(request, outing, kept):
    if remembered(request, outing) != kept:
        request.session["log"] = {str(outing.pk): kept}


def entry_form(request, page, data=None, *, paper=False, **initial):
    """The row to type into, filled with what the contact before leaves."""
    kept = dict(remembered(request, page.outing))
    if paper and not kept.get("after") and page.latest:
        kept["after"] = page.latest.started_at.isoformat()
    return EntryForm(
        data, outing=page.outing, operator=request.user, now=page.now,
        stints=[line.stint for line in page.stints], paper=paper, kept=kept,
        next_serial=page.next_serial, initial=initial,
    )


def show(request, outing, *, piece=None, status=200, forms=None, **context):
    """The whole page, or with htmx the named piece and all others beside it that may have changed.

    `forms` holds bound forms that were refused, by what they are for: {"entry": ..., "begin": ..., ("change", 7): ...}.
    """
    forms, paper = forms or {}, context.pop("paper", paper_of(request))
    page = queries.log(
        outing, timezone.now(), request.user, all_of_them=request.GET.get("all") == "1", page=request.GET.get("page"),
        holding=forms["mend"].stored if "mend" in forms else None,
    )
    stints = [line.stint for line in page.stints]
    elsewhere = forms.get("mend") or forms.get("boundary")  # has the focus then, so that it is scrolled to
    entry = forms.get("entry") or entry_form(request, page, paper=paper)
    if elsewhere and not request.htmx:
        entry.fields["call"].widget.attrs.pop("autofocus", None)
    shared = {"gear": page.gear, "now": page.now}
    context |= {
        "log": page, "outing": outing, "site": outing.site, "zone": outing.site.time_zone, "paper": paper,
        "is_member": outing.owner_id != request.user.pk,
        "entry": entry,
        "begin": forms.get("begin") or BeginForm(outing=outing, like=stints[-1] if stints else None, **shared),
        "begin_open": "begin" in forms or not (page.running or paper or (stints and outing.ends_at < page.now)),
        "on_air": [
            {
                "line": line,
                "when": forms.get(("when", line.stint.pk)) or WhenForm(stint=line.stint, now=page.now),
                "change": forms.get(("change", line.stint.pk)) or ChangeForm(stint=line.stint, **shared),
                "change_open": ("change", line.stint.pk) in forms,
            }
            for line in page.running
        ],
        "announce": forms.get("announce") or WhenForm(now=page.now, prefix="announce"),
        "strays_form": forms.get("strays") or StraysForm(outing=outing, stints=stints),
        "mend": forms.get("mend"), "boundary": forms.get("boundary"),
        "bands": [*outing.bands, *(band for band in tables.BAND_NAMES if band not in outing.bands)],
        "modes": USUAL_MODES, "sources": page.gear.sources,
        "reports": {stint.pk: dial.usual_report(stint.mode, stint.submode) for stint in stints},
    }
    if request.htmx and piece:
        context |= {
            "piece": f"outings/log/_{piece}.html",
            "beside": [f"outings/log/_{name}.html" for name in BESIDE[piece]],
        }
        return render(request, "outings/log/_pieces.html", context, status=status)
    context["fair_test"] = fair_tests.open_test(outing, page.now) if outing.owner == request.user else None
    return render(request, "outings/log/log.html", context, status=status)


def done(request, outing, *, piece, **context):
    """After something was done: the changed pieces with htmx, else back to the page."""
    if request.htmx:
        return show(request, outing, piece=piece, **context)
    return redirect(address(outing, paper=paper_of(request)))
