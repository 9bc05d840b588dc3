"""Pages of shared outings: whom the owner invites, and the answer of who was invited."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from outings.forms.members import InviteForm
from outings.models import Outing, OutingMember


@require_http_methods(["GET", "HEAD", "POST"])
def members(request, pk):
    """Who is at an outing, and inviting one more."""
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)
    form = InviteForm(request.POST or None, outing=outing)
    if request.method == "POST" and form.is_valid():
        member = form.save()
        messages.success(request, f"{member.operator} is invited and finds the invitation on the start page.")
        return redirect("outings:members", outing.pk)
    context = {"outing": outing, "form": form, "members": outing.members.select_related("operator").order_by("pk")}
    return render(request, "outings/members/members.html", context, status=422 if form.errors else 200)


@require_POST
def member_remove(request, pk, member_pk):
    """Take an operator off an outing, or an invitation back; what was logged stays."""
    member = get_object_or_404(
        OutingMember.objects.select_related("operator"), pk=member_pk, outing=pk, outing__owner=request.user
    )
    member.delete()
    messages.success(request, f"{member.operator} no longer reaches this outing.")
    return redirect("outings:members", pk)


@require_POST
def membership_join(request, member_pk):
    """Accept an invitation."""
    member = get_object_or_404(OutingMember.objects.of(request.user).select_related("outing__site"), pk=member_pk)
    member.join(timezone.now())
    messages.success(request, f"You log at {member.outing} now.")
    return redirect("outings:log", member.outing_id)


@require_http_methods(["GET", "HEAD", "POST"])
def membership_leave(request, member_pk):
    """Decline an invitation, or leave an outing that was joined."""
    memberships = OutingMember.objects.of(request.user).select_related("outing__site", "outing__owner")
    member = get_object_or_404(memberships, pk=member_pk)
    if request.method == "POST":
        member.delete()
        messages.success(request, f"{member.outing} is off your list.")
        return redirect("outings:outing_list")
    return render(request, "_confirm.html", {
        "question": f"Leave {member.outing}?" if member.joined_at else f"Decline {member.outing}?",
        "consequence": f"What you logged there stays in the log of {member.outing.owner}, who can invite you again.",
        "action": "Leave" if member.joined_at else "Decline", "back": reverse("outings:outing_list"),
    })
