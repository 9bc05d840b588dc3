"""Pages of the arrangements of an antenna."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from equipment import bands
from equipment.forms.gear import ArrangementForm
from equipment.models import Antenna, Arrangement, Sweep
from equipment.queries import references
from equipment.queries.resonance import resonances
from equipment.queries.sweeps import shown, with_gear

from .answers import deletion_answer, form_answer
from .sweeps import pictured


def arrangement_new(request, antenna_pk):
    antenna = get_object_or_404(Antenna.objects.of(request.user), pk=antenna_pk)
    form = ArrangementForm(
        request.POST or None, instance=Arrangement(owner=request.user, antenna=antenna), units=request.user.units
    )
    context = {"title": "New arrangement", "antenna": antenna, "back": antenna.get_absolute_url()}
    return form_answer(request, form, "equipment/arrangement_form.html", context, "{} is kept.")


@require_GET
def arrangement(request, pk):
    row = get_object_or_404(Arrangement.objects.of(request.user).select_related("antenna", "feedline"), pk=pk)
    gone = Sweep.everything.of(request.user).withdrawn().filter(arrangement=row).defer("original", "points")
    context = {
        "arrangement": row, "kits": row.kits.all(), "sweeps": row.sweeps.newest_first().defer("original", "points"),
        "withdrawn": gone,
    }
    newest = with_gear(row.sweeps.newest_first()).first()
    names = {setting.band for setting in row.band_settings.all()}
    if newest:
        context |= {"newest": newest, **pictured(shown(newest))}
        names |= {line.band for line in context["found"].measured.usable_bands}
    names = sorted(names, key=bands.position)
    known = resonances([row.pk], names)
    context["resonances"] = [known[row.pk, name] for name in names if (row.pk, name) in known]
    return render(request, "equipment/arrangement.html", context)


def arrangement_edit(request, pk):
    row = get_object_or_404(Arrangement.objects.of(request.user).select_related("antenna"), pk=pk)
    title = f"Edit {row}"
    form = ArrangementForm(request.POST or None, instance=row, units=request.user.units)
    context = {
        "title": title, "antenna": row.antenna, "back": row.get_absolute_url(), "references": references(row),
    }
    return form_answer(request, form, "equipment/arrangement_form.html", context, "{} is saved.")


@require_POST
def arrangement_copy(request, pk):
    row = get_object_or_404(Arrangement.objects.of(request.user), pk=pk)
    twin = row.copy()
    messages.success(request, f"{row} is copied with its band settings. Give the copy its own name.")
    return redirect("equipment:arrangement_edit", twin.pk)


@require_POST
def arrangement_retire(request, pk):
    row = get_object_or_404(Arrangement.objects.of(request.user), pk=pk)
    row.retire(timezone.now().date())
    messages.success(request, f"{row} is retired. The log keeps it; kits and new stints no longer offer it.")
    return redirect(row)


@require_POST
def arrangement_take_back(request, pk):
    row = get_object_or_404(Arrangement.objects.of(request.user), pk=pk)
    row.take_back()
    messages.success(request, f"{row} is in use again.")
    return redirect(row)


def arrangement_delete(request, pk):
    row = get_object_or_404(Arrangement.objects.of(request.user).select_related("antenna"), pk=pk)
    return deletion_answer(request, row, "arrangement", row.antenna)
