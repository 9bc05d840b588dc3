"""Stints of one outing: begin, pause, resume, change, stop, and afterwards add, correct, move a boundary, delete."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from outings.forms.stints import USUAL_MODES, BeginForm, ChangeForm, WhenForm, WholeStintForm
from outings.models import Stint
from outings.queries import log as queries

from .log_page import address, done, outings_of, paper_of, show


def stint_of(outing, pk):
    """One stint of an outing, with the outing at hand."""
    rows = Stint.objects.filter(outing=outing).select_related("radio", "arrangement", "follows")
    stint = get_object_or_404(rows, pk=pk)
    stint.outing = outing
    return stint


@require_POST
def stint_begin(request, pk):
    """Go on the air."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    last = outing.stints.last()
    gear = queries.gear_of(outing, request.user)
    form = BeginForm(request.POST, outing=outing, gear=gear, now=timezone.now(), like=last)
    if form.is_valid() and (stint := form.save(request.user)):
        messages.success(request, f"On the air: {stint.label}.")
        return done(request, outing, piece="on_air")
    return show(request, outing, piece="on_air", status=422, forms={"begin": form})


@require_http_methods(["GET", "POST"])
def stint_add(request, pk):
    """Add a whole stint afterwards; the next one is proposed to begin where it ended."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    stints = list(outing.stints.select_related("radio", "arrangement", "pack"))
    form = WholeStintForm(
        request.POST or None, outing=outing, gear=queries.gear_of(outing, request.user), now=timezone.now(),
        like=stints[-1] if stints else None,
    )
    if request.method == "POST" and form.is_valid() and (stint := form.save(request.user)):
        count = stint.contacts.count()
        messages.success(request, f"Added {stint.label}; {count} contacts of the log lie in it.")
        if "another" in request.POST:
            return redirect(request.get_full_path())
        return redirect(address(outing, paper=paper_of(request)))
    return stint_page(request, outing, form, stints=stints)


@require_http_methods(["GET", "POST"])
def stint_correct(request, pk, stint_pk):
    """Correct a stint; its contacts follow."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    stint = stint_of(outing, stint_pk)
    form = WholeStintForm(
        request.POST or None, outing=outing, gear=queries.gear_of(outing, request.user), now=timezone.now(),
        instance=stint,
    )
    if request.method == "POST" and form.is_valid() and form.save(request.user):
        messages.success(request, f"Corrected {stint.label}.")
        return redirect(address(outing, paper=paper_of(request)))
    return stint_page(request, outing, form, stint=stint)


def stint_page(request, outing, form, **context):
    """The page of one stint's form."""
    context |= {
        "outing": outing, "form": form, "paper": paper_of(request), "bands": outing.bands or ["20m", "40m"],
        "modes": USUAL_MODES, "sources": form.gear.sources,
    }
    return render(request, "outings/log/stint.html", context, status=422 if form.is_bound else 200)


@require_POST
def stint_change(request, pk, stint_pk):
    """Change what is on the air: the next stint begins where this one ends."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    stint = stint_of(outing, stint_pk)
    form = ChangeForm(request.POST, stint=stint, gear=queries.gear_of(outing, request.user), now=timezone.now())
    if form.is_valid() and (following := form.save(request.user)):
        messages.success(request, f"On the air: {following.label}.")
        return done(request, outing, piece="on_air")
    return show(request, outing, piece="on_air", status=422, forms={("change", stint.pk): form})


def at_a_moment(request, pk, stint_pk, act, said):
    """Do something to a stint at the moment that was typed."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    stint = stint_of(outing, stint_pk)
    form = WhenForm(request.POST, now=timezone.now(), stint=stint)
    if form.apply(getattr(stint, act), request.user):
        messages.success(request, f"{said} at {form.cleaned_data['at']:%H:%M:%S} UTC.")
        return done(request, outing, piece="on_air")
    return show(request, outing, piece="on_air", status=422, forms={("when", stint.pk): form})


@require_POST
def stint_pause(request, pk, stint_pk):
    """Leave the air for a while."""
    return at_a_moment(request, pk, stint_pk, "pause", "Paused")


@require_POST
def stint_resume(request, pk, stint_pk):
    """Come back on the air."""
    return at_a_moment(request, pk, stint_pk, "resume", "Back on the air")


@require_POST
def stint_stop(request, pk, stint_pk):
    """Leave the air for good."""
    return at_a_moment(request, pk, stint_pk, "stop", "Stopped")


@require_http_methods(["GET", "POST"])
def stint_boundary(request, pk, stint_pk):
    """Move the boundary between a stint and the one before; contacts in between change sides."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    stint = stint_of(outing, stint_pk)
    data = request.POST if request.method == "POST" else None
    form = WhenForm(data, now=timezone.now(), prefix=f"boundary-{stint.pk}")
    form.fields["at"].widget.attrs["autofocus"] = True
    if request.method == "POST" and form.apply(stint.move_boundary, request.user):
        messages.success(request, f"{stint.label}: begins at {stint.started_at:%H:%M:%S} UTC now.")
        return done(request, outing, piece="stints")
    status = 422 if request.method == "POST" else 200
    return show(request, outing, piece="stints", status=status, forms={"boundary": form}, boundary_of=stint.pk)


@require_http_methods(["GET", "POST"])
def stint_delete(request, pk, stint_pk):
    """Delete a stint with a trace; its contacts stay."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    stint = stint_of(outing, stint_pk)
    if request.method == "POST":
        stint.withdraw(request.user)
        messages.success(request, f"Deleted {stint.label}. Its contacts are still in the log.")
        return redirect(address(outing))
    return render(request, "_confirm.html", {
        "question": f"Delete the stint {stint.label}?",
        "consequence": f"Its contacts ({stint.contacts.count()}) stay in the log, in another stint that covers them or "
                       "in none. The history keeps the stint, and it can be brought back.",
        "action": "Delete the stint", "back": address(outing),
    })
