"""Pages of outings as planned: list, plan, new, edit, copy, delete and bring back."""

from django.contrib import messages
from django.contrib.auth import get_user_model
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django.views.decorators.vary import vary_on_headers

from equipment.models import CannotTakeBack, Kit
from outings.forms.plans import OutingForm, OutingSearchForm
from outings.models import Outing, Site
from outings.papers.cautions import CAUTIONS
from outings.queries import plans as plan_queries
from outings.queries.energy import outing_energy
from outings.queries.kit_checks import outing_check
from outings.queries.people import outing_reach

A_PAGE = 25
SHOWN_CAUTIONS = ("Power lines", "Lightning", "Radio-frequency exposure", "Batteries", "Rules")  # paper has them all
LISTS = ("upcoming", "past", "deleted")


@require_safe
@vary_on_headers("HX-Request")
def outing_list(request):
    """Outings ahead, past or deleted, searched."""
    form = OutingSearchForm(request.GET, label_suffix="")
    form.full_clean()
    which = request.GET.get("show") if request.GET.get("show") in LISTS else "upcoming"
    outings = plan_queries.outing_list(
        request.user, which=which, now=timezone.now(), text=form.cleaned_data.get("q", "")
    )
    page = Paginator(outings, A_PAGE).get_page(request.GET.get("page"))
    counts = plan_queries.contact_counts(page.object_list)
    rows = [(outing, counts.get(outing.pk, 0)) for outing in page.object_list]
    context = {
        "form": form, "page": page, "rows": rows, "which": which, "lists": LISTS,
        "memberships": () if request.htmx else plan_queries.memberships(request.user),
        "has_any": bool(rows) or Outing.objects.of(request.user).exists(),
        "has_site": bool(rows) or Site.objects.of(request.user).in_use().exists(),
    }
    return render(request, "outings/plans/_rows.html" if request.htmx else "outings/plans/outing_list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def outing_new(request):
    """Plan an outing; `?site=` and `?kit=` choose them beforehand."""
    initial = {}
    for name, model in (("site", Site), ("kit", Kit)):
        wanted = request.GET.get(name, "")
        if wanted.isdecimal() and len(wanted) < 18:
            initial[name] = model.objects.of(request.user).filter(pk=wanted).first()
    return edited(request, Outing(owner=request.user), "Plan an outing", initial)


@require_safe
def plan(request, pk):
    """One outing as planned, with its light."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit"), pk=pk)
    points = [f"{title}: {text}" for title, text in CAUTIONS if title in SHOWN_CAUTIONS]
    found, energy = plan_queries.plan(outing), outing_energy(outing)
    context = {
        "plan": found, "outing": outing, "cautions": points, "energy": energy, "people": outing_reach(outing),
        "check": outing_check(outing, found.kit, energy),
        "members": outing.members.select_related("operator"),
        "has_others": get_user_model().objects.exclude(pk=request.user.pk).exists(),
    }
    return render(request, "outings/plans/plan.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def outing_edit(request, pk):
    """Change a plan."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)
    return edited(request, outing, f"Edit {outing}")


@require_http_methods(["GET", "HEAD", "POST"])
def outing_copy(request, pk):
    """A new plan that begins as another outing was: all but its dates, conditions and what happened."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit"), pk=pk)
    return edited(request, Outing(owner=request.user), f"Plan again: {outing}", OutingForm.initial_from(outing))


def edited(request, outing, title, initial=None):
    """The form of a plan, shown or taken."""
    back = outing.get_absolute_url() if outing.pk else None
    form = OutingForm(request.POST or None, instance=outing, operator=request.user, initial=initial or {})
    if request.method == "POST" and form.is_valid():
        saved = form.save()
        messages.success(request, "The plan is saved.")
        return redirect(saved)
    context = {
        "form": form, "title": title, "back": back,
        "has_site": form.fields["site"].queryset.exists(),
    }
    return render(request, "outings/plans/outing_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def outing_delete(request, pk):
    """Delete an outing with its log, after a question; it can be brought back."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)
    if request.method == "POST":
        outing.withdraw_whole(request.user)
        messages.success(request, f"{outing} is deleted. It can be brought back from the list of deleted outings.")
        return redirect("outings:outing_list")
    count = plan_queries.contact_counts([outing]).get(outing.pk, 0)
    log = f"its log ({count} contact{'' if count == 1 else 's'})"
    return render(request, "_confirm.html", {
        "question": f"Delete {outing}?",
        "consequence": f"Its stints, its checklist and {log} go with it. All of it can be brought back.",
        "action": "Delete the outing", "back": outing.get_absolute_url(),
    })


@require_POST
def outing_restore(request, pk):
    """Bring a deleted outing back, with what was deleted with it."""
    outing = get_object_or_404(Outing.everything.of(request.user).deleted(), pk=pk)
    try:
        outing.bring_back_whole(request.user)
    except CannotTakeBack as error:
        messages.error(request, f"It cannot be brought back: {error}.")
        return redirect("outings:outing_list")
    messages.success(request, f"{outing} is back.")
    return redirect(outing)
