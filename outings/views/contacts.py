"""Pages of contacts: the list, one contact, and mending many at once."""

from django.contrib import messages
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from equipment.models import Change
from outings.adif import tables
from outings.forms.contacts import QSL_RCVD, QSL_SENT, ContactFilter, ContactForm, SettleConflictForm
from outings.forms.mending import MendForm, WrongClockForm, chosen_contacts
from outings.models import Contact, ContactConflict
from outings.queries import changes, conditions, contacts


@require_GET
def contact_list(request):
    chosen = ContactFilter(request.GET, request.user)
    page = contacts.contact_page(
        chosen.log(), chosen, after=request.GET.get("after", ""), before=request.GET.get("before", "")
    )
    fragment = request.htmx and not request.htmx.boosted
    return render(request, "outings/contacts/_list.html" if fragment else "outings/contacts/list.html", {
        "filter": chosen, "page": page, "query": chosen.query(), "bands": tables.BAND_NAMES,
        "modes": tables.MODES, "station_calls": () if fragment else contacts.station_calls(request.user),
    })


@require_GET
def contact(request, pk):
    rows = Contact.everything.of(request.user)
    row = get_object_or_404(
        rows.select_related("outing__site", "stint__arrangement__antenna", "imported_by"), pk=pk
    )
    return render(request, "outings/contacts/contact.html", {
        "contact": row, "conflicts": contacts.conflicts_of(row), "history": changes.history_of(row),
        "entity": tables.entities().get(row.dxcc, ""), "qsl_sent": dict(QSL_SENT).get(row.qsl_sent, row.qsl_sent),
        "qsl_rcvd": dict(QSL_RCVD).get(row.qsl_rcvd, row.qsl_rcvd), "conditions": conditions.of_contact(row),
    })


@require_http_methods(["GET", "POST"])
@transaction.atomic
def contact_edit(request, pk):
    rows = Contact.objects.of(request.user).select_for_update(of=("self",)).select_related("outing__site", "stint")
    row = get_object_or_404(rows, pk=pk)
    form = ContactForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        change = form.keep(request.user)
        messages.success(request, f"{row.call} is saved." if change else "Nothing was changed.")
        return redirect("outings:contact", row.pk)
    return render(request, "outings/contacts/edit.html", {
        "form": form, "contact": form.stored, "bands": tables.BAND_NAMES, "modes": tables.MODES,
        "propagation": tables.enumeration("Propagation_Mode"),
    }, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def contact_withdraw(request, pk):
    row = get_object_or_404(Contact.objects.of(request.user), pk=pk)
    if request.method == "POST":
        row.withdraw(request.user)
        messages.success(request, f"{row.call} is deleted. It can be brought back here.")
        return redirect("outings:contact", row.pk)
    return render(request, "_confirm.html", {
        "question": f"Delete the contact with {row.call}?", "action": "Delete the contact",
        "consequence": "It leaves the log, the counts and the files. Its page and history stay, and it can come back.",
        "back": row.get_absolute_url(),
    })


@require_POST
def contact_bring_back(request, pk):
    row = get_object_or_404(Contact.everything.of(request.user), pk=pk)
    row.bring_back(request.user)
    messages.success(request, f"{row.call} is back in the log.")
    return redirect("outings:contact", row.pk)


@require_POST
def contact_conflict(request, pk, conflict_pk):
    row = get_object_or_404(Contact.everything.of(request.user), pk=pk)
    conflict = get_object_or_404(ContactConflict, contact=row, pk=conflict_pk, settled_at__isnull=True)
    form = SettleConflictForm(request.POST, conflict=conflict)
    if form.is_valid():
        form.keep(request.user)
        messages.success(request, "Settled.")
    else:
        messages.error(request, "Choose which version is to stay.")
    return redirect("outings:contact", row.pk)


@require_http_methods(["GET", "POST"])
@transaction.atomic
def contact_mend(request):
    chosen = ContactFilter(request.GET, request.user)
    ticked = request.GET.getlist("chosen")
    by_phone = "phone" in request.GET
    if by_phone:
        rows = WrongClockForm(request.GET, request.user).contacts()
    elif ticked:
        rows = chosen_contacts(request.user, ticked)
    else:
        rows = chosen.filtered(chosen.log())
    offered = {name: request.GET[name] for name in ("shift", "stints") if name in request.GET}
    form = MendForm(request.POST or None, contacts=rows, operator=request.user, initial=offered)
    preview = form.preview() if request.method == "POST" and form.is_valid() else None
    if preview and "apply" in request.POST:
        if request.POST["apply"] == preview.fingerprint:
            batch = form.keep(request.user)
            if batch is None:
                messages.info(request, "Nothing was changed: all of them were so already.")
                return redirect("outings:contact_list")
            contacts_are = "contact is" if preview.changing == 1 else "contacts are"
            messages.success(request, f"{preview.changing} {contacts_are} mended. This can be taken back here.")
            return redirect("outings:change", Change.objects.of(request.user).leading().get(batch=batch).pk)
        messages.warning(request, "The log has changed since the preview. Look again, then apply.")
    return render(request, "outings/contacts/mend.html", {
        "form": form, "preview": preview, "ticked": ticked, "by_phone": by_phone, "filter": chosen,
        "count": rows.order_by().count(),
        "bands": tables.BAND_NAMES, "modes": tables.MODES, "query": request.GET.urlencode(),
        "back": chosen.query() if not ticked else "",
    }, status=422 if form.errors else 200)
