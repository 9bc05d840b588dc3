"""Pages that judge gear, like held to like."""

from django.shortcuts import render
from django.views.decorators.http import require_GET

from outings.forms.evidence import EvidenceFilter
from outings.queries.comparison import MEASURES
from outings.queries.dimensions import DIMENSIONS


@require_GET
def evidence(request):
    chosen = EvidenceFilter(request.GET, request.user)
    return render(request, "outings/evidence/evidence.html", {
        "filter": chosen, "found": chosen.judged(), "measure": MEASURES[chosen.measure_key],
        "dimension": DIMENSIONS[chosen.by_key], "query": chosen.query(), "behind": chosen.stints_query(),
    })
