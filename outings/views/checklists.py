"""Pages of checklists: the list of an outing, its lines, making it again, the paper, and the standing lines."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outings.forms.checklists import LineForm, RemakeForm, StandingFormSet, add_starters
from outings.models import ChecklistLine, Outing, StandingLine
from outings.papers import checklist as checklist_papers
from outings.papers import sheets
from outings.queries import checklists as checklist_queries
from outings.queries import papers as paper_queries
from outings.queries import plans as plan_queries
from outings.queries.energy import outing_energy
from outings.queries.kit_checks import outing_check
from outings.queries.people import outing_reach

MOST_LOG_PAGES = 20


def shown_checklist(request, outing, form=None):
    """The page of a checklist, with the form of a new line as it was typed."""
    found, kit, energy = checklist_queries.checklist(outing), plan_queries.kit_part(outing), outing_energy(outing)
    context = {
        "outing": outing, "checklist": found, "differences": checklist_queries.differences(outing),
        "form": form or LineForm(initial={"section": StandingLine.Section.PACK}),
        "kit": kit, "energy": energy, "people": outing_reach(outing), "check": outing_check(outing, kit, energy),
        "has_standing": StandingLine.objects.of(request.user).exists(), "ordering": request.GET.get("order") == "1",
    }
    status = 422 if form is not None and form.errors else 200
    return render(request, "outings/checklists/checklist.html", context, status=status)


@require_safe
def checklist(request, pk):
    """The checklist of an outing, to be ticked."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit"), pk=pk)
    return shown_checklist(request, outing)


@require_http_methods(["GET", "HEAD", "POST"])
def checklist_make(request, pk):
    """Make the checklist from kit and standing lines, or bring it up to date."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit"), pk=pk)
    form = RemakeForm(request.POST if request.method == "POST" else None, outing=outing)
    if request.method == "POST" and form.is_valid():
        count = form.save(request.user)
        messages.success(request, f"{count} lines changed." if count != 1 else "One line changed.")
        return redirect("outings:checklist", pk=outing.pk)
    context = {"outing": outing, "form": form, "found": form.found}
    return render(request, "outings/checklists/make.html", context, status=422 if form.errors else 200)


@require_POST
def checklist_line_add(request, pk):
    """A line that somebody types."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit"), pk=pk)
    form = LineForm(request.POST, instance=ChecklistLine(owner_id=outing.owner_id, outing=outing))
    if not form.is_valid():
        return shown_checklist(request, outing, form)
    line = form.save_for(request.user)
    return redirect(f"{outing_checklist(outing)}#line-{line.pk}")


def outing_checklist(outing):
    """The address of an outing's checklist."""
    return f"{outing.get_absolute_url()}checklist/"


def line_of(request, pk, line_pk):
    """A living line of a checklist of one's own, with its living outing."""
    return get_object_or_404(
        ChecklistLine.objects.of(request.user).select_related("outing__site"), pk=line_pk, outing=pk,
        outing__deleted_at__isnull=True,
    )


@require_POST
def checklist_line_tick(request, pk, line_pk):
    """Tick a line, or take the tick off, as the form says."""
    line = line_of(request, pk, line_pk)
    line.tick(request.user, on=request.POST.get("ticked") == "1")
    if request.htmx:
        context = {"outing": line.outing, "line": line, "checklist": checklist_queries.checklist(line.outing)}
        return render(request, "outings/checklists/_ticked.html", context)
    return redirect(f"{outing_checklist(line.outing)}#line-{line.pk}")


@require_POST
def checklist_line_move(request, pk, line_pk):
    """Move a line up or down within its section."""
    line = line_of(request, pk, line_pk)
    line.move(request.user, up=request.POST.get("way") != "down")
    if request.htmx:
        found = checklist_queries.checklist(line.outing)
        section = next(section for section in found.sections if section.key == line.section)
        context = {"outing": line.outing, "section": section, "ordering": True}
        return render(request, "outings/checklists/_section.html", context)
    return redirect(f"{outing_checklist(line.outing)}?order=1#line-{line.pk}")


@require_http_methods(["GET", "HEAD", "POST"])
def checklist_line_edit(request, pk, line_pk):
    """Change a line, or take it off."""
    line = line_of(request, pk, line_pk)
    if request.method == "POST" and "take_off" in request.POST:
        line.withdraw(request.user, cause="checklist")
        messages.success(request, f"“{line.text}” is off the list.")
        return redirect("outings:checklist", pk=line.outing_id)
    form = LineForm(request.POST or None, instance=line)
    if request.method == "POST" and form.is_valid():
        form.save_for(request.user)
        return redirect(f"{outing_checklist(line.outing)}#line-{line.pk}")
    context = {"form": form, "line": line, "outing": line.outing}
    return render(request, "outings/checklists/line_form.html", context, status=422 if form.errors else 200)


@require_safe
def checklist_paper(request, pk):
    """The checklist as PDF; `?paper=` A4 or Letter, `?log_pages=` how many log sheets follow."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit"), pk=pk)
    paper = request.GET.get("paper") if request.GET.get("paper") in sheets.SIZES else request.user.paper
    wanted = request.GET.get("log_pages", "1")
    log_pages = min(int(wanted), MOST_LOG_PAGES) if wanted.isdecimal() and len(wanted) < 4 else 1
    plan, energy = plan_queries.plan(outing), outing_energy(outing)
    data = paper_queries.checklist_paper(
        plan, checklist_queries.checklist(outing), outing_check(outing, plan.kit, energy), energy, outing_reach(outing),
        request.user, request.build_absolute_uri(outing.get_absolute_url()), log_pages,
    )
    response = HttpResponse(checklist_papers.render(data, paper), content_type="application/pdf")
    parts = ("checklist", slugify(outing.site.name), f"{outing.window_start:%Y-%m-%d}")
    response["Content-Disposition"] = f'inline; filename="{"_".join(filter(None, parts))}.pdf"'
    return response


@require_http_methods(["GET", "HEAD", "POST"])
def standing_lines(request):
    """The lines that every new checklist begins with."""
    form_set = StandingFormSet(request.POST or None, operator=request.user)
    if request.method == "POST" and form_set.is_valid():
        form_set.save()
        messages.success(request, "The standing lines are saved. Checklists that are made from now on have them.")
        return redirect("outings:standing_lines")
    refused = request.method == "POST"
    context = {"form_set": form_set, "has_lines": form_set.initial_form_count() > 0}
    return render(request, "outings/checklists/standing_lines.html", context, status=422 if refused else 200)


@require_POST
def standing_starters(request):
    """Begin with lines that most outings need."""
    if add_starters(request.user):
        messages.success(request, "These are yours now: change them, take some off, add your own.")
    else:
        messages.error(request, "You have standing lines already.")
    return redirect("outings:standing_lines")
