"""Pages of an outing's report: on the screen and on paper."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from outings.forms.reports import NightForm
from outings.models import Outing
from outings.papers import outing_report, sheets
from outings.queries import report as queries
from outings.queries import report_paper as paper_queries


def the_outing(request, pk):
    return get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit", "owner"), pk=pk)


def asked(request, outing):
    """The report with the map's night at the moment that was asked for, and the form that asks."""
    form = NightForm(request.GET, outing_starts_at=outing.window_start)
    at = form.cleaned_data["at"] if form.is_valid() else None
    return queries.report(outing, outing.owner, timezone.now(), at), form


@require_safe
def report(request, pk):
    """What happened at an outing, for its operator."""
    outing = the_outing(request, pk)
    found, form = asked(request, outing)
    context = {
        "outing": outing, "report": found, "night": form, "timeline": queries.timeline(found), "own": True,
        "units": request.user.units, "with_notes": True,
    }
    return render(request, "outings/reports/report.html", context, status=422 if form.errors else 200)


@require_safe
def report_paper(request, pk):
    """The same as a PDF, in the paper size that was asked for or is preferred."""
    outing = the_outing(request, pk)
    paper = request.GET.get("paper") if request.GET.get("paper") in sheets.SIZES else request.user.paper
    found, _ = asked(request, outing)
    pdf = outing_report.render(paper_queries.report_paper(found, request.user), paper)
    name = slugify(f"{outing} report") or "report"
    return HttpResponse(pdf, headers={
        "Content-Type": "application/pdf", "Content-Disposition": f'inline; filename="{name}.pdf"',
    })
