"""Pages of what phones handed in from an outing: who, what and when, conflicts, and remarks made in the field."""

from django.contrib import messages
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from outings.forms.phones import RemarkForm, SettleEntryForm
from outings.models import FieldEntry, Outing, Remark
from outings.queries import phones as queries


def own_outing(request, pk):
    """The operator's outing with its site."""
    return get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)


@require_GET
def phones(request, pk):
    outing = own_outing(request, pk)
    return render(request, "outings/phones/phones.html", {"outing": outing, "found": queries.handed_in(outing)})


@require_POST
@transaction.atomic
def phone_conflict(request, pk, entry_pk):
    outing = own_outing(request, pk)
    entries = FieldEntry.objects.filter(outing=outing).open_conflicts().select_for_update(of=("self",))
    form = SettleEntryForm(request.POST, entry=get_object_or_404(entries, pk=entry_pk))
    if form.is_valid():
        form.keep(request.user)
        messages.success(request, "Settled. What was changed by it is among the changes of the outing.")
    else:
        messages.error(request, "Choose which version is to stay.")
    return redirect("outings:phones", outing.pk)


@require_http_methods(["GET", "POST"])
def remark_add(request, pk):
    outing = own_outing(request, pk)
    return edited(request, outing, Remark(owner=request.user, outing=outing), "Add a remark")


@require_http_methods(["GET", "POST"])
def remark_edit(request, pk, remark_pk):
    outing = own_outing(request, pk)
    remark = get_object_or_404(outing.remarks(manager="objects"), pk=remark_pk)
    return edited(request, outing, remark, "Edit the remark")


@require_http_methods(["GET", "POST"])
def remark_withdraw(request, pk, remark_pk):
    outing = own_outing(request, pk)
    remark = get_object_or_404(outing.remarks(manager="objects"), pk=remark_pk)
    if request.method == "POST":
        remark.withdraw(request.user)
        messages.success(request, "The remark is deleted. It can be brought back among the changes of the outing.")
        return redirect("outings:phones", outing.pk)
    return render(request, "_confirm.html", {
        "question": f"Delete the remark “{remark}”?", "action": "Delete the remark",
        "consequence": "It leaves the page and the phones. It can be brought back among the changes of the outing.",
        "back": queries.address_of(outing),
    })


def edited(request, outing, remark, heading):
    """Show the form of a remark, or keep what was typed."""
    form = RemarkForm(request.POST or None, instance=remark, now=timezone.now())
    if request.method == "POST" and form.is_valid():
        kept = form.keep(request.user)
        messages.success(request, "The remark is kept." if kept else "Nothing was changed.")
        return redirect("outings:phones", outing.pk)
    return render(request, "outings/phones/remark_form.html", {
        "form": form, "outing": outing, "heading": heading,
    }, status=422 if form.errors else 200)
