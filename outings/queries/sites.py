"""What the list of sites and the page of one site read."""

from dataclasses import dataclass

from django.db.models import Count, Max, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from equipment.models import ReadableJSON, any_holds
from outings.models import Outing, Site

SHOWN_OUTINGS = 20


def with_references_text(queryset):
    """Annotate the references as text, to be searched."""
    return queryset.annotate(references_text=ReadableJSON("references"))


def site_list(operator, *, text="", state="", order=("name", "id")):
    """The sites of an operator with the count and the last start of their outings, as a QuerySet to be paged."""
    sites = Site.objects.of(operator)
    if state != "all":
        sites = sites.retired() if state == "retired" else sites.in_use()
    if text:
        sites = with_references_text(sites)
        sites = sites.filter(
            Q(grid__istartswith=text) | any_holds(text, "name", "country", "state", "county", "references_text")
        )
    outings = Outing.objects.filter(site=OuterRef("pk")).order_by().values("site")
    return sites.annotate(
        outing_count=Coalesce(Subquery(outings.annotate(count=Count("pk")).values("count")), 0),
        last_outing_at=Subquery(outings.annotate(last=Max("window_start")).values("last")),
    ).order_by(*order)


@dataclass(frozen=True)
class SitePage:
    """One site with its latest outings, how many there are in all, and whether it can be deleted."""

    site: Site
    outings: tuple
    outing_count: int
    can_be_deleted: bool

    @property
    def more(self):
        return self.outing_count - len(self.outings)


def site_page(site):
    """What the page of a site shows."""
    outings = tuple(Outing.objects.filter(site=site).order_by("-window_start", "-id")[: SHOWN_OUTINGS + 1])
    count = len(outings)
    if count > SHOWN_OUTINGS:
        count, outings = Outing.objects.filter(site=site).count(), outings[:SHOWN_OUTINGS]
    for outing in outings:
        outing.site = site
    return SitePage(site, outings, count, can_be_deleted=not site.is_referred_to())
