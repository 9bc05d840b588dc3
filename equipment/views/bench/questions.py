"""The page of all questions that the bench answers."""

from django.shortcuts import render
from django.views.decorators.http import require_GET

from equipment.queries.bench.questions import by_part


@require_GET
def bench(request):
    return render(request, "equipment/bench/bench.html", {"parts": by_part()})
