"""Pages of handing in an outing's log: the check, and the files."""

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from outings.models import Outing
from outings.queries import hand_in as queries
from outings.queries import hand_in_files


@require_GET
def hand_in(request, pk):
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)
    return render(request, "outings/hand_in/check.html", {
        "outing": outing, "hand_in": queries.hand_in(outing, timezone.now()),
    })


@require_GET
def hand_in_file(request, pk, number, ending):
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)
    file = hand_in_files.hand_in_file(outing, number)
    if file is None or ending not in ("adi", "adx"):
        raise Http404("There is no such file.")
    handover = hand_in_files.handover_of(outing, file, ending)
    return HttpResponse("".join(handover.pieces()).encode(), headers={
        "Content-Type": handover.content_type,
        "Content-Disposition": f'attachment; filename="{file.stem}.{ending}"',
    })
