"""Pages of handing in an outing's log: the check, and the files."""

from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from outings.models import Outing
from outings.queries import hand_in as queries


@require_GET
def hand_in(request, pk):
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)
    return render(request, "outings/hand_in/check.html", {
        "outing": outing, "hand_in": queries.hand_in(outing, timezone.now()),
    })
