"""Pages of the coils of antennas, and of their taps."""

from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from equipment.forms.coils import CoilForm
from equipment.models import Antenna, Coil
from equipment.queries.coils import tap_lines, tap_states

from .answers import deletion_answer, form_answer


@require_GET
def coil(request, pk):
    row = get_object_or_404(Coil.objects.of(request.user).select_related("antenna").prefetch_related("taps"), pk=pk)
    arrangements = [
        (arrangement, tap_states(arrangement, row))
        for arrangement in row.arrangements().prefetch_related("band_settings")
    ]
    context = {"coil": row, "lines": tap_lines(row), "arrangements": arrangements, "whole_h": row.inductance_h()}
    return render(request, "equipment/coil.html", context)


def coil_new(request, antenna_pk):
    antenna = get_object_or_404(Antenna.objects.of(request.user), pk=antenna_pk)
    form = CoilForm(request.POST or None, instance=Coil(owner=request.user, antenna=antenna), units=request.user.units)
    context = {"title": "New coil", "antenna": antenna, "back": antenna.get_absolute_url()}
    return form_answer(request, form, "equipment/arrangement_form.html", context, "{} is kept.")


def coil_edit(request, pk):
    row = get_object_or_404(Coil.objects.of(request.user).select_related("antenna"), pk=pk)
    title = f"Edit {row}"
    form = CoilForm(request.POST or None, instance=row, units=request.user.units)
    context = {"title": title, "antenna": row.antenna, "back": row.get_absolute_url()}
    return form_answer(request, form, "equipment/arrangement_form.html", context, "{} is saved.")


def coil_delete(request, pk):
    row = get_object_or_404(Coil.objects.of(request.user).select_related("antenna"), pk=pk)
    return deletion_answer(request, row, "coil", row.antenna)
