"""Reception reports of an outing: a file looked at and kept, what it shows, its lines that were not taken, deleted."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from outings.forms.receptions import ReceptionForm
from outings.models import Outing, ReceptionFile
from outings.queries import receptions


def outings_of(operator):
    return Outing.objects.of(operator).select_related("site", "owner")


@require_http_methods(["GET", "HEAD", "POST"])
def reception(request, pk):
    """What receivers reported of this outing, and the form that brings a file of it in."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    form = ReceptionForm(request.POST if request.method == "POST" else None, request.FILES or None, outing=outing)
    if form.is_bound and form.is_valid() and form.keeps:
        file, new = form.save()
        had = len(form.read.reports) - new
        words = f"{new} reports are kept from {file}."
        messages.success(request, f"{words} {had} were here already." if had else words)
        return redirect("outings:reception", outing.pk)
    return render(request, "outings/reception/reception.html", {
        "outing": outing, "form": form, "found": receptions.of_outing(outing),
    }, status=422 if form.is_bound and form.errors else 200)


@require_safe
def reception_file(request, pk, file_pk):
    """The lines of a file that were not taken, with the reason."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    file = get_object_or_404(ReceptionFile.objects.of(request.user).filter(outing=outing), pk=file_pk)
    return render(request, "outings/reception/file.html", {
        "outing": outing, "file": file, "reports": file.reports.count(),
    })


@require_http_methods(["GET", "HEAD", "POST"])
def reception_delete(request, pk, file_pk):
    """Delete a file and its reports."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    file = get_object_or_404(ReceptionFile.objects.of(request.user).filter(outing=outing), pk=file_pk)
    if request.method == "POST":
        file.delete()
        messages.success(request, f"{file} and its reports are deleted.")
        return redirect("outings:reception", outing.pk)
    return render(request, "_confirm.html", {
        "question": f"Delete {file} and its {file.reports.count()} reports?", "action": "Delete the reports",
        "consequence": "They are gone for good; the file can be brought in again. The log itself is not touched.",
        "back": reverse("outings:reception", args=[outing.pk]),
    })
