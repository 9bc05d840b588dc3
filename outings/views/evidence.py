"""Pages that judge gear, like held to like."""

from dataclasses import replace

from django.shortcuts import render
from django.views.decorators.http import require_GET

from outings.forms.evidence import EvidenceFilter
from outings.queries.comparison import MEASURES
from outings.queries.dimensions import DIMENSIONS


@require_GET
def evidence(request):
    chosen = EvidenceFilter(request.GET, request.user)
    found, measure = chosen.judged(), MEASURES[chosen.measure_key]
    if found.unit:  # the operator's own
        measure = replace(measure, unit=found.unit, against=measure.against.replace("km ", f"{found.unit} "))
    return render(request, "outings/evidence/evidence.html", {
        "filter": chosen, "found": found, "measure": measure,
        "dimension": DIMENSIONS[chosen.by_key], "query": chosen.query(), "behind": chosen.stints_query(),
    })
