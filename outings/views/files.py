"""Pages of files: logs that come in, previewed, imported and undone; logs that go out."""

import contextlib

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import DatabaseError
from django.http import Http404, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from outings import waiting
from outings.adif import tables
from outings.forms.contacts import ContactFilter
from outings.forms.files import EncodingForm, ImportForm, UploadForm
from outings.intake import importing, undoing, work
from outings.models import ImportedFile, ImportFinding
from outings.queries import adif_files, files

PAGE = 50


def imported_file(request, pk):
    """The operator's uploaded file, with word of work on it that was killed."""
    imported = get_object_or_404(ImportedFile.objects.of(request.user).select_related("owner"), pk=pk)
    imported.give_up_if_silent(timezone.now())
    return imported


@require_http_methods(["GET", "POST"])
def file_list(request):
    form = UploadForm(request.POST or None, request.FILES or None, operator=request.user)
    if request.method == "POST" and form.is_valid():
        imported = form.save()
        try:
            work.start(imported)
        except (OSError, DatabaseError):  # a full disk, say: nothing is left of an upload that was not read
            with contextlib.suppress(DatabaseError):
                imported.discard()
            raise
        return redirect("outings:file", imported.pk)
    page = Paginator(ImportedFile.objects.of(request.user), PAGE).get_page(request.GET.get("page"))
    return render(
        request, "outings/files/list.html", {"form": form, "page": page}, status=422 if form.errors else 200
    )


@require_GET
def file(request, pk):
    imported = imported_file(request, pk)
    form = ImportForm(imported=imported) if imported.status == ImportedFile.Status.READ else None
    return render(request, "outings/files/file.html", context_of(imported, form))


def context_of(imported, form):
    """What the page of a file shows, whatever state it is in."""
    return {
        "imported": imported, "form": form, "summary": files.summary_of(imported), "storing": storing(imported),
        "encoding": EncodingForm(imported=imported),
        "earlier": imported.earlier(),
    }


def storing(imported):
    """How far it is with storing what is prepared, as far as that is noted."""
    return waiting.noted(imported.uuid.hex) if imported.message == "storing" else {}


@require_GET
def file_progress(request, pk):
    imported = imported_file(request, pk)
    response = render(
        request, "outings/files/_progress.html", {"imported": imported, "storing": storing(imported)}
    )
    if not imported.is_at_work:
        response["HX-Refresh"] = "true"
    return response


@require_GET
def file_findings(request, pk, kind):
    imported = imported_file(request, pk)
    if kind not in ImportFinding.Kind:
        raise Http404
    page = Paginator(imported.findings.filter(kind=kind), PAGE).get_page(request.GET.get("page"))
    return render(request, "outings/files/findings.html", {
        "imported": imported, "kind": ImportFinding.Kind(kind), "page": page,
        "found": imported.summary.get("findings", {}).get(kind, 0),
    })


@require_POST
def file_import(request, pk):
    imported = imported_file(request, pk)
    if imported.status != ImportedFile.Status.READ:
        messages.error(request, "This file is not waiting to be imported.")
        return redirect("outings:file", pk)
    form = ImportForm(request.POST, imported=imported)
    if not form.is_valid():
        return render(request, "outings/files/file.html", context_of(imported, form), status=422)
    work.start(form.save())
    return redirect("outings:file", pk)


@require_POST
def file_read_again(request, pk):
    imported = imported_file(request, pk)
    if imported.status not in (ImportedFile.Status.FAILED, ImportedFile.Status.UNDONE, ImportedFile.Status.READ):
        messages.error(request, "This file is being worked on, or is in the log.")
        return redirect("outings:file", pk)
    form = EncodingForm(request.POST, imported=imported)
    if not form.is_valid():
        messages.error(request, "Choose one of the encodings in the list.")
        return redirect("outings:file", pk)
    work.start(form.save())
    return redirect("outings:file", pk)


@require_http_methods(["GET", "POST"])
def file_undo(request, pk):
    imported = imported_file(request, pk)
    if request.method == "POST":
        try:
            gone = undoing.undo(imported)
        except importing.CannotImport as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"The import is undone. Contacts that left the log: {gone['contacts']}.")
        return redirect("outings:file", pk)
    return render(request, "_confirm.html", {
        "question": f"Undo the import of {imported}?", "action": "Undo the import",
        "consequence": files.undo_in_words(imported), "back": files.address_of(imported),
    })


@require_http_methods(["GET", "POST"])
def file_discard(request, pk):
    imported = imported_file(request, pk)
    if imported.status == ImportedFile.Status.IMPORTED or imported.is_at_work:
        messages.error(request, "A file that is in the log or being worked on stays. Undo its import first.")
        return redirect("outings:file", pk)
    if request.method == "POST":
        imported.discard()
        messages.success(request, "The upload is gone. The log was not touched.")
        return redirect("outings:file_list")
    return render(request, "_confirm.html", {
        "question": f"Forget the upload {imported}?", "action": "Forget it",
        "consequence": "The uploaded copy and what was found in it go. The log is not touched.",
        "back": files.address_of(imported),
    })


@require_GET
def export(request):
    chosen = ContactFilter(request.GET, request.user)
    contacts = chosen.filtered(chosen.log())
    return render(request, "outings/files/export.html", {
        "filter": chosen, "query": chosen.query(), "preview": files.export_preview(contacts),
        "bands": tables.BAND_NAMES, "modes": tables.MODES,
    })


@require_GET
def export_file(request, ending):
    if ending not in ("adi", "adx"):
        raise Http404
    chosen = ContactFilter(request.GET, request.user)
    contacts = chosen.filtered(chosen.log())
    written = adif_files.Handover(contacts, ending)
    outing = chosen.cleaned_data.get("outing") if chosen.is_valid() else None
    response = StreamingHttpResponse(written.pieces(), content_type=written.content_type)
    name = adif_files.file_name(request.user, ending, outing)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
