"""Pages of what was changed: everything, one outing, one change or batch with taking back."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods

from equipment.models import CannotTakeBack, Change
from outings.models import Outing
from outings.queries import changes


def number(text):
    """A change's number from an address; None for anything else."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 19 else None


@require_GET
def change_list(request):
    entries, onwards = changes.all_changes(request.user, number(request.GET.get("before")))
    return render(request, "outings/changes/list.html", {"entries": entries, "onwards": onwards})


@require_GET
def outing_changes(request, pk):
    outing = get_object_or_404(Outing.everything.of(request.user).select_related("site"), pk=pk)
    entries, onwards = changes.outing_changes(outing, number(request.GET.get("before")))
    return render(request, "outings/changes/list.html", {"outing": outing, "entries": entries, "onwards": onwards})


@require_http_methods(["GET", "POST"])
def change(request, pk):
    row = get_object_or_404(Change.objects.of(request.user).select_related("actor"), pk=pk)
    if request.method == "POST":
        try:
            count = row.take_back(request.user) if "one" in request.POST else row.take_back_batch(request.user)
        except CannotTakeBack as refused:
            messages.error(request, f"Nothing was taken back. {refused}")
            return redirect("outings:change", row.pk)
        messages.success(request, f"Taken back: {count} {'row is' if count == 1 else 'rows are'} as before.")
        back = request.POST.get("next", "")
        safe = url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure())
        return redirect(back if safe else "outings:change_list")
    return render(request, "outings/changes/change.html", {
        **changes.batch_of(row, request.user), "one": changes.entries([row])[0] if "one" in request.GET else None,
    })
