"""Pages of the kits."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from equipment.forms.kits import KitForm
from equipment.models import Kit
from equipment.queries import kit_rows, packing_list, settings_by_band
from equipment.queries.bench.lasting import kit_lasting
from equipment.queries.kit_check import kit_check

from .answers import deletion_answer, form_answer

A_TIME_H = 3.0  # a kit by itself has no window: what it draws and how long it lasts do not depend on this


@require_GET
def kit_list(request):
    state = "all" if request.GET.get("state") == "all" else ""
    return render(request, "equipment/kit_list.html", {"rows": kit_rows(request.user, state=state), "state": state})


def kit_new(request):
    form = KitForm(request.POST or None, instance=Kit(owner=request.user), units=request.user.units)
    return form_answer(request, form, "equipment/kit_form.html", {"title": "New kit"}, "{} is kept.")


@require_GET
def kit(request, pk):
    row = get_object_or_404(Kit.objects.of(request.user), pk=pk)
    lines = packing_list(row)
    check = kit_check(row, lines=lines, energy=kit_lasting(row, A_TIME_H), window=False)
    context = {
        "kit": row, "lines": lines, "weight": check.weight, "covers": settings_by_band(row), "check": check,
    }
    return render(request, "equipment/kit.html", context)


def kit_edit(request, pk):
    row = get_object_or_404(Kit.objects.of(request.user), pk=pk)
    title = f"Edit {row}"
    form = KitForm(request.POST or None, instance=row, units=request.user.units)
    context = {"title": title, "back": row.get_absolute_url()}
    return form_answer(request, form, "equipment/kit_form.html", context, "{} is saved.")


@require_POST
def kit_copy(request, pk):
    row = get_object_or_404(Kit.objects.of(request.user), pk=pk)
    twin = row.copy()
    messages.success(request, f"{row} is copied. Give the copy its own name.")
    return redirect("equipment:kit_edit", twin.pk)


@require_POST
def kit_retire(request, pk):
    row = get_object_or_404(Kit.objects.of(request.user), pk=pk)
    row.retire(timezone.now().date())
    messages.success(request, f"{row} is retired. Its outings keep it; new ones no longer offer it.")
    return redirect(row)


@require_POST
def kit_take_back(request, pk):
    row = get_object_or_404(Kit.objects.of(request.user), pk=pk)
    row.take_back()
    messages.success(request, f"{row} is in use again.")
    return redirect(row)


def kit_delete(request, pk):
    row = get_object_or_404(Kit.objects.of(request.user), pk=pk)
    return deletion_answer(request, row, "kit", "equipment:kit_list")
