"""Pages of sites: list, one site, new, edit, copy, retire, delete."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django.views.decorators.vary import vary_on_headers

from outings.forms.sites import SiteForm, SiteSearchForm
from outings.models import Site
from outings.queries.sites import site_list as listed_sites
from outings.queries.sites import site_page

A_PAGE = 50


@require_safe
@vary_on_headers("HX-Request")
def site_list(request):
    """Sites in use or retired, searched and sorted."""
    form = SiteSearchForm(request.GET, label_suffix="")
    form.full_clean()
    chosen = form.cleaned_data
    order = chosen.get("order") or "name"
    sites = listed_sites(
        request.user, text=chosen.get("q", ""), state=chosen.get("state", ""), order=SiteSearchForm.ORDERS[order]
    )
    page = Paginator(sites, A_PAGE).get_page(request.GET.get("page"))
    has_any = bool(page.paginator.count) or Site.objects.of(request.user).exists()
    context = {"form": form, "page": page, "order": order, "has_any": has_any}
    template = "outings/sites/_rows.html" if request.htmx else "outings/sites/site_list.html"
    return render(request, template, context)


@require_http_methods(["GET", "HEAD", "POST"])
def site_new(request):
    """A new site."""
    return edited(request, Site(owner=request.user), "New site")


@require_safe
def site(request, pk):
    """One site with its outings."""
    found = get_object_or_404(Site.objects.of(request.user), pk=pk)
    return render(request, "outings/sites/site.html", {"page": site_page(found), "site": found})


@require_http_methods(["GET", "HEAD", "POST"])
def site_edit(request, pk):
    """Change a site."""
    found = get_object_or_404(Site.objects.of(request.user), pk=pk)
    return edited(request, found, f"Edit {found}")


@require_http_methods(["GET", "HEAD", "POST"])
def site_copy(request, pk):
    """A new site that begins as another one is."""
    found = get_object_or_404(Site.objects.of(request.user), pk=pk)
    name = found.name
    found.pk, found.retired_on, found.name = None, None, f"{found.name[:72]} (copy)"
    found._state.adding = True
    return edited(request, found, f"Copy of {name}")


def edited(request, found, title):
    """The form of a site, shown or taken."""
    back = Site(pk=found.pk).get_absolute_url() if found.pk else None
    form = SiteForm(request.POST or None, instance=found, units=request.user.units)
    if request.method == "POST" and form.is_valid():
        saved = form.save()
        messages.success(request, f"{saved.name} is saved, in {saved.grid_6}.")
        return redirect(saved)
    status = 422 if form.errors else 200
    return render(request, "outings/sites/site_form.html", {"form": form, "title": title, "back": back}, status=status)


@require_POST
def site_retire(request, pk):
    """Take a site out of use, or take it back: it stays where outings were."""
    found = get_object_or_404(Site.objects.of(request.user), pk=pk)
    if found.is_retired:
        found.take_back()
        messages.success(request, f"{found.name} is in use again.")
    else:
        found.retire(timezone.now().date())
        messages.success(request, f"{found.name} is retired: new plans no longer offer it.")
    return redirect(found)


@require_http_methods(["GET", "HEAD", "POST"])
def site_delete(request, pk):
    """Delete a site that nothing refers to, after a question."""
    found = get_object_or_404(Site.objects.of(request.user), pk=pk)
    if found.is_referred_to():
        messages.error(request, f"{found.name} has outings, so it cannot be deleted. Retire it instead.")
        return redirect(found)
    if request.method == "POST":
        found.delete()
        messages.success(request, f"{found.name} is deleted.")
        return redirect("outings:site_list")
    return render(request, "_confirm.html", {
        "question": f"Delete {found.name}?", "consequence": "Nothing refers to it. It cannot be brought back.",
        "action": "Delete the site", "back": found.get_absolute_url(),
    })
