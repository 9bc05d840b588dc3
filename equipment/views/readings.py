"""Readings of a pack: the list, and one typed by hand, changed, withdrawn or brought back."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from equipment.forms.readings import ReadingForm
from equipment.models import Pack, PackReading

from .answers import form_answer

A_PAGE = 100


@require_GET
def reading_list(request, pack_pk):
    pack = get_object_or_404(Pack.objects.of(request.user), pk=pack_pk)
    page = Paginator(pack.readings.order_by("-at", "-id"), A_PAGE).get_page(request.GET.get("page"))
    gone = PackReading.everything.of(request.user).exclude(deleted_at=None)
    withdrawn = gone.filter(pack=pack).order_by("-at", "-id")
    return render(request, "equipment/reading_list.html", {"item": pack, "page": page, "withdrawn": withdrawn})


def reading_new(request, pack_pk):
    pack = get_object_or_404(Pack.objects.of(request.user), pk=pack_pk)
    form = ReadingForm(
        request.POST or None, instance=PackReading(owner=request.user, pack=pack), actor=request.user,
        units=request.user.units,
    )
    context = {"title": "New reading", "item": pack}
    return form_answer(request, form, "equipment/reading_form.html", context, "The reading of {} is kept.")


def reading_edit(request, pk):
    reading = get_object_or_404(PackReading.objects.of(request.user).select_related("pack"), pk=pk)
    form = ReadingForm(request.POST or None, instance=reading, actor=request.user, units=request.user.units)
    context = {"title": "Edit a reading", "item": reading.pack, "reading": reading}
    return form_answer(request, form, "equipment/reading_form.html", context, "The reading of {} is saved.")


@require_POST
def reading_withdraw(request, pk):
    reading = get_object_or_404(PackReading.objects.of(request.user), pk=pk)
    reading.withdraw(request.user)
    messages.success(request, f"The reading of {reading} is withdrawn. It stays below and can be brought back.")
    return redirect(reading)


@require_POST
def reading_bring_back(request, pk):
    reading = get_object_or_404(PackReading.everything.of(request.user).exclude(deleted_at=None), pk=pk)
    reading.bring_back(request.user)
    messages.success(request, f"The reading of {reading} is back.")
    return redirect(reading)
