"""Fair tests of an outing: planned, run from the laptop, read, deleted."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from outings.forms.fair_tests import PlanForm, StepForm
from outings.models import Outing, SwitchingPlan
from outings.queries import fair_tests
from outings.queries import log as log_queries

from .log_page import address


def own_address(outing):
    return reverse("outings:fair_test", args=[outing.pk])


@require_http_methods(["GET", "HEAD", "POST"])
def fair_test(request, pk):
    """Plan a fair test: `show` tells what it could show, `make` keeps it. Below it the tests of this outing."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit", "owner"), pk=pk)
    form = PlanForm(request.POST or None, outing=outing, gear=log_queries.gear_of(outing, request.user))
    if request.method == "POST" and form.is_valid() and "make" in request.POST:
        form.save(request.user)
        messages.success(request, "The fair test is ready. It runs here, on the log page and on the phone.")
        return redirect("outings:fair_test", outing.pk)
    return page(request, outing, form, status=422 if form.errors else 200)


def page(request, outing, form, status=200, refused=None):
    """The page; `refused` is the bound form of a step that could not be done."""
    tests = fair_tests.fair_tests(outing, timezone.now())
    return render(request, "outings/fair_tests/fair_test.html", {
        "outing": outing, "form": form, "tests": tests, "refused": refused,
        "open": next((test for test in tests if test.is_open), None),
    }, status=status)


@require_POST
def fair_test_step(request, pk, plan_pk):
    """Put the next block on the air, go off the air to switch, or close the test."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit", "owner"), pk=pk)
    plan = get_object_or_404(SwitchingPlan.objects.filter(outing=outing), pk=plan_pk)
    now = timezone.now()
    form = StepForm(request.POST, test=fair_tests.fair_test(plan, now, judge=False), now=now)
    said = form.apply(request.user)
    if not said:
        empty = PlanForm(outing=outing, gear=log_queries.gear_of(outing, request.user))
        return page(request, outing, empty, status=422, refused=form)
    messages.success(request, said)
    return redirect(address(outing) if request.POST.get("back") == "log" else own_address(outing))


@require_http_methods(["GET", "HEAD", "POST"])
def fair_test_delete(request, pk, plan_pk):
    """Delete a plan with a trace; its stints stay in the log and are compared like others."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site", "kit", "owner"), pk=pk)
    plan = get_object_or_404(SwitchingPlan.objects.filter(outing=outing), pk=plan_pk)
    if request.method == "POST":
        plan.withdraw(request.user)
        messages.success(request, "The fair test is deleted. Its stints and contacts are still in the log.")
        return redirect("outings:fair_test", outing.pk)
    return render(request, "_confirm.html", {
        "question": f"Delete this fair test ({plan.blocks.count()} blocks)?", "action": "Delete the fair test",
        "consequence": "Its stints and contacts stay in the log and count as before, no longer as pairs on this page.",
        "back": own_address(outing),
    })
