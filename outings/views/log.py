"""The log of one outing: its page, the row that contacts are typed into, and mending the last ones."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from outings.forms.log import MendForm, StraysForm
from outings.forms.stints import WhenForm
from outings.models import Contact
from outings.queries import log as queries

from .log_page import done, entry_form, outings_of, paper_of, remember, show


def contact_of(outing, pk, rows=None):
    """One contact of an outing, with the outing at hand."""
    contact = get_object_or_404((rows or Contact.objects).filter(outing=outing), pk=pk)
    contact.outing = outing
    return contact


@require_GET
def log(request, pk):
    """/outings/<pk>/log/: everything on one page."""
    return show(request, get_object_or_404(outings_of(request.user), pk=pk))


@require_GET
def log_figures(request, pk):
    """The counts alone, asked for again while the page stays open."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    now = timezone.now()
    if not request.htmx:
        return show(request, outing)
    context = {"figures": queries.figures(outing, now), "outing": outing, "zone": outing.site.time_zone}
    return render(request, "outings/log/_figures.html", context)


@require_POST
def log_announce(request, pk):
    """Note when the outing was announced to others."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    form = WhenForm(request.POST, now=timezone.now(), prefix="announce")
    if not form.is_valid():
        return show(request, outing, piece="on_air", status=422, forms={"announce": form})
    outing.announced_at = form.cleaned_data["at"]
    outing.keep(request.user, cause="announce")
    return done(request, outing, piece="on_air")


@require_POST
def contact_log(request, pk):
    """Log the contact in the row."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    page = queries.basis(outing, timezone.now(), request.user)
    form = entry_form(request, page, request.POST, paper=paper_of(request))
    if not form.is_valid() or form.is_unseen_duplicate():
        contact, call = form.as_far_as_typed()
        return show(
            request, outing, piece="entry", status=422, forms={"entry": form},
            known=queries.known(contact, call, request.user),
        )
    contact = form.save(request.user)
    remember(request, outing, form.kept(contact))
    if not request.htmx:
        note = " No stint covers it." if contact.stint_id is None else ""
        doubtful = " It is kept as doubtful." if contact.pending else ""
        messages.success(request, f"Logged {contact.call}, {contact.started_at:%H:%M:%S} UTC.{doubtful}{note}")
    return done(request, outing, piece="entry", logged=contact)


@require_POST
def contact_known(request, pk):
    """What is known while a contact is typed; with "take" its blanks are filled from earlier contacts."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    page = queries.basis(outing, timezone.now(), request.user)
    form = entry_form(request, page, request.POST, paper=paper_of(request))
    contact, call = form.as_far_as_typed()
    known = queries.known(contact, call, request.user)
    if request.htmx and "take" not in request.POST:
        return render(request, "outings/log/_known.html", {"known": known, "outing": outing})
    data = request.POST.copy()
    for name, value in known.offered.items() if "take" in request.POST else ():
        data[name] = data.get(name) or value
    form = entry_form(request, page, paper=paper_of(request), **{
        name: data[name] for name in form.fields if name in data and name != "identity"
    })
    return show(request, outing, piece="entry", forms={"entry": form}, known=known)


@require_POST
def contact_strays(request, pk):
    """Give chosen contacts that have no stint one."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    form = StraysForm(request.POST, outing=outing, stints=list(outing.stints.select_related("radio", "arrangement")))
    if not form.is_valid():
        return show(request, outing, piece="strays", status=422, forms={"strays": form})
    count = len(form.save(request.user))
    messages.success(request, f"{count} {'contact has' if count == 1 else 'contacts have'} a stint now.")
    return done(request, outing, piece="strays")


@require_http_methods(["GET", "POST"])
def contact_mend(request, pk, contact_pk):
    """Mend one contact in its row."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    contact = contact_of(outing, contact_pk)
    stints = list(outing.stints.select_related("radio", "arrangement"))
    data = request.POST if request.method == "POST" else None
    form = MendForm(data, contact=contact, stints=stints, now=timezone.now())
    if data is None or not form.is_valid():
        return show(request, outing, piece="contacts", status=422 if data else 200, forms={"mend": form})
    form.save(request.user)
    messages.success(request, f"{contact.call}, {contact.started_at:%H:%M} UTC, is mended.")
    return done(request, outing, piece="contacts")


@require_POST
def contact_take_back(request, pk, contact_pk):
    """Delete a contact with a trace; the last one logged with one key."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    contact = contact_of(outing, contact_pk)
    contact.withdraw(request.user, cause="undo" if "last" in request.POST else "delete")
    messages.success(request, f"{contact.call}, {contact.started_at:%H:%M} UTC, is out of the log.")
    return done(request, outing, piece="contacts")


@require_POST
def contact_bring_back(request, pk, contact_pk):
    """Bring a deleted contact back."""
    outing = get_object_or_404(outings_of(request.user), pk=pk)
    contact = contact_of(outing, contact_pk, Contact.everything)
    contact.bring_back(request.user)
    messages.success(request, f"{contact.call}, {contact.started_at:%H:%M} UTC, is back in the log.")
    return done(request, outing, piece="contacts")
