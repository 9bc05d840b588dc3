"""Pages of an outing's report: on the screen, on paper, and for others by an address that can be withdrawn."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from outings.forms.reports import NightForm, ShareForm
from outings.models import Outing, SharedReport
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
        "units": request.user.units, "share": ShareForm(), "with_notes": True,
        "shares": [
            (share, request.build_absolute_uri(f"/shared/{share.token}/")) for share in outing.shared_reports.open()
        ],
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


@require_POST
def report_share(request, pk):
    """Make an address that shows the report to everybody who has it."""
    outing = the_outing(request, pk)
    form = ShareForm(request.POST, instance=SharedReport(owner=request.user, outing=outing))
    if form.is_valid():
        form.save()
        messages.success(request, "Everybody who has the address can see the report now.")
    return redirect("outings:report", pk=outing.pk)


@require_POST
def share_withdraw(request, pk, share):
    """End an address."""
    shared_report = get_object_or_404(SharedReport.objects.of(request.user).open(), pk=share, outing=pk)
    shared_report.withdraw(timezone.now())
    messages.success(request, "The address leads nowhere any more.")
    return redirect("outings:report", pk=pk)


@login_not_required
@never_cache
@require_safe
def shared(request, token):
    """The report for somebody who was given its address: read only, the position to its grid square."""
    share = get_object_or_404(
        SharedReport.objects.open().select_related("outing__site", "outing__kit", "owner"), token=token
    )
    outing = share.outing
    found, form = asked(request, outing)
    context = {
        "outing": outing, "report": found, "night": form, "timeline": queries.timeline(found), "own": False,
        "units": share.owner.units, "operator": share.owner, "with_notes": share.with_notes,
    }
    answer = render(request, "outings/reports/shared.html", context, status=422 if form.errors else 200)
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    answer.headers["Referrer-Policy"] = "no-referrer"
    return answer
