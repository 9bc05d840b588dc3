"""Sweeps of arrangements: a file shown and kept, the page of one, several compared, and files handed out."""

from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_POST

from equipment import bands
from equipment.forms.sweeps import CompareForm, SweepFileForm, SweepForm
from equipment.models import Arrangement, Sweep
from equipment.numerals import POINT, decimals_after
from equipment.physics import sweep_files
from equipment.queries import sweeps as queries
from equipment.templatetags import sweeps as shown

from .answers import form_answer


def sweep_new(request, arrangement_pk):
    """Take in a file: show what was understood, and keep it when told so."""
    arrangement = get_object_or_404(
        Arrangement.objects.of(request.user).select_related("antenna", "feedline"), pk=arrangement_pk
    )
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = SweepFileForm(
        *sent, instance=Sweep(owner=request.user, arrangement=arrangement), actor=request.user,
        units=request.user.units,
    )
    context = {"arrangement": arrangement, "form": form}
    if form.is_bound and form.is_valid():
        if form.is_to_be_kept:
            row = form.save()
            messages.success(request, f"The {row} is kept.")
            return redirect(row)
        context |= pictured(queries.shown(form.instance))
    return render(request, "equipment/sweeps/new.html", context, status=422 if form.errors else 200)


def pictured(found):
    """A sweep with its pictures, for a template."""
    swr, ohms = queries.pictures([(view.title, view) for view in found.views])
    return {"found": found, "swr": swr, "ohms": ohms}


@require_GET
def sweep(request, pk):
    row = get_object_or_404(queries.with_gear(Sweep.objects.of(request.user)), pk=pk)
    others = row.arrangement.sweeps.exclude(pk=row.pk).defer("original", "points")
    context = {"sweep": row, "arrangement": row.arrangement, "others": others, **pictured(queries.shown(row))}
    context["note_query"] = urlencode({
        "title": f"{row.arrangement}: sweep of {row.taken_at:%Y-%m-%d}", "arrangements": row.arrangement_id,
        "text": note_text(context["found"].measured, row),
    })
    return render(request, "equipment/sweeps/sweep.html", context)


def note_text(view, row):
    """What a note about a sweep begins with: a line for each usable band, and where it comes from."""
    lines = [
        f"- {line.band}: lowest SWR {shown.swr(line.found.lowest.swr)} at "
        f"{shown.near(line.found.lowest.frequency_hz, view.step_hz)}, 2 or less: "
        f"{shown.usable(line.found.usable[1], line.found)}" for line in view.usable_bands
    ]
    place = f", {row.place}" if row.place else ""
    source = f"[Sweep of {row.taken_at:%Y-%m-%d}]({row.get_absolute_url()}), {view.title}{place}."
    return "\n".join([*lines, "", source]).strip()


def sweep_edit(request, pk):
    row = get_object_or_404(queries.with_gear(Sweep.objects.of(request.user)), pk=pk)
    form = SweepForm(request.POST or None, instance=row, actor=request.user, units=request.user.units)
    context = {"sweep": row, "arrangement": row.arrangement}
    return form_answer(request, form, "equipment/sweeps/edit.html", context, "The {} is saved.")


@require_POST
def sweep_withdraw(request, pk):
    row = get_object_or_404(Sweep.objects.of(request.user).select_related("arrangement"), pk=pk)
    row.withdraw(request.user)
    messages.success(request, f"The {row} is withdrawn. It stays with the arrangement and can be brought back.")
    return redirect(row.arrangement)


@require_POST
def sweep_bring_back(request, pk):
    row = get_object_or_404(Sweep.everything.of(request.user).withdrawn(), pk=pk)
    row.bring_back(request.user)
    messages.success(request, f"The {row} is back.")
    return redirect(row)


@require_GET
def sweep_original(request, pk):
    """The file as it came, byte for byte."""
    row = get_object_or_404(Sweep.objects.of(request.user), pk=pk)
    response = HttpResponse(bytes(row.original), content_type="application/octet-stream")
    return attached(response, row.file_name or "sweep.s1p")


@require_GET
def sweep_touchstone(request, pk, plane):
    """The curve at a place as a Touchstone file."""
    row = get_object_or_404(queries.with_gear(Sweep.objects.of(request.user)), pk=pk)
    with decimals_after(POINT):  # a file for programs
        found = next((one for one in queries.curves_of(row)[0] if one[0] == plane), None)
    if found is None or not row.phase_known:
        raise Http404
    _, how, _, curve = found
    comment = f"{queries.named(row)}, taken {row.taken_at:%Y-%m-%d %H:%M} UTC\n{queries.PLANES[plane]}, {how}"
    text = sweep_files.write_touchstone(curve, comment)
    name = slugify(f"{row.arrangement.antenna} {row.arrangement} {row.band} {row.taken_at:%Y-%m-%d} {plane}")
    return attached(HttpResponse(text, content_type="text/plain; charset=utf-8"), f"{name[:100]}.s1p")


def attached(response, name):
    """A file to be saved under a name."""
    response.headers["Content-Disposition"] = content_disposition_header(True, name)
    return response


@require_GET
def sweep_compare(request):
    """Sweeps over each other, chosen in the address."""
    plane = request.GET.get("at") if request.GET.get("at") in queries.PLANES else queries.FEEDPOINT
    found = queries.compared(request.user, CompareForm.sweeps(request.GET), plane)
    form = CompareForm(request.GET, reached=found.bands)
    chosen = form.chosen()
    context = {"form": form, "compared": found, "band": chosen["band"]}
    if found.rows:
        context["swr"], context["ohms"] = queries.pictures(found.pairs, bands.named(chosen["band"]))
    return render(request, "equipment/sweeps/compare.html", context)
