"""Pages that judge gear, like held to like, and what is handed out of them: the report as PDF, the picture."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from outings.forms.evidence import EvidenceFilter
from outings.models import Outing
from outings.papers import gear_report, sheets
from outings.queries.comparison import MEASURES
from outings.queries.dimensions import DIMENSIONS
from outings.queries.gear_report import gear_report_of


@require_GET
def evidence(request):
    chosen = EvidenceFilter(request.GET, request.user)
    ahead = Outing.objects.of(request.user).upcoming(timezone.now()).select_related("site").first()
    found = chosen.judged()
    return render(request, "outings/evidence/evidence.html", {
        "filter": chosen, "found": found, "measure": MEASURES[chosen.measure_key].of(found),
        "dimension": DIMENSIONS[chosen.by_key], "query": chosen.query(), "behind": chosen.stints_query(),
        "ahead": ahead,
    })


def report_of(request, chosen):
    """The judgement that the address asks for as a report; None where it cannot be read or nothing is behind it."""
    if not chosen.is_valid():
        return None
    found = chosen.judged()
    if found.state == "empty":
        messages.warning(request, "There is nothing to report: no stint matches.")
        return None
    word = DIMENSIONS[chosen.by_key].word
    return gear_report_of(
        found, MEASURES[chosen.measure_key].of(found), word, request.user, chosen.words(), timezone.now()
    )


def handed_out(request, make, ending, content_type):
    """A paper or picture of the judgement, or back to its page, which says what is wrong."""
    chosen = EvidenceFilter(request.GET, request.user)
    report = report_of(request, chosen)
    if report is None:
        return redirect(f"{reverse('outings:evidence')}?{request.GET.urlencode()}")
    response = HttpResponse(make(report), content_type=content_type)
    name = "_".join(filter(None, ("gear", slugify(request.user.call_sign.replace("/", "-")), chosen.by_key)))
    response["Content-Disposition"] = f'inline; filename="{name}.{ending}"'
    return response


@require_GET
def evidence_report(request):
    """The report as PDF; `?paper=` A4 or Letter."""
    paper = request.GET.get("paper") if request.GET.get("paper") in sheets.SIZES else request.user.paper
    return handed_out(request, lambda report: gear_report.render(report, paper), "pdf", "application/pdf")


@require_GET
def evidence_png(request):
    return handed_out(request, gear_report.png, "png", "image/png")


@require_GET
def evidence_svg(request):
    return handed_out(request, gear_report.svg, "svg", "image/svg+xml")
