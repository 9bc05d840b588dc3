"""The performance page, and the contacts and stints behind its figures."""

from django.shortcuts import render
from django.views.decorators.http import require_GET

from outings.forms.performance import ContactsBehind, PerformanceFilter
from outings.models import Contact
from outings.queries import approximate, contacts, performance


@require_GET
def figures(request):
    chosen = PerformanceFilter(request.GET, request.user)
    found = performance.performance(request.user, chosen.stints(), chosen.by_key)
    return render(request, "outings/performance/figures.html", {
        "filter": chosen, "found": found, "query": chosen.query(), "dimension": performance.DIMENSIONS[found.by],
        "near": approximate.approximate(request.user, chosen.stints()),
    })


@require_GET
def contacts_behind(request):
    chosen = ContactsBehind(request.GET, request.user)
    log = Contact.objects.of(request.user)
    page = contacts.contact_page(
        log, chosen, after=request.GET.get("after", ""), before=request.GET.get("before", "")
    )
    return render(request, "outings/performance/contacts.html", {
        "filter": chosen, "page": page, "query": chosen.query(), "query_newest": chosen.query(sort=None),
        "query_farthest": chosen.query(sort="farthest"), "back": PerformanceFilter.query(chosen),
    })


@require_GET
def stints_behind(request):
    chosen = ContactsBehind(request.GET, request.user)
    page = performance.stints_behind(
        chosen.stints(), after=request.GET.get("after", ""), before=request.GET.get("before", "")
    )
    return render(request, "outings/performance/stints.html", {
        "filter": chosen, "page": page, "query": chosen.query(),
        "back": PerformanceFilter.query(chosen),
    })
