"""Pages of performance notes."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from outings.forms.notes import NoteForm
from outings.models import Note
from outings.queries import changes

PAGE = 25
TIED = ("arrangements__antenna", "packs", "radios", "outings__site")


@require_GET
def note_list(request):
    notes = Note.objects.of(request.user)
    sought = request.GET.get("q", "").strip()
    context = {
        "sought": sought,
        "page": Paginator(notes.mentioning(sought).prefetch_related(*TIED), PAGE).get_page(request.GET.get("page")),
        "any": bool(sought) and notes.exists(),
        "withdrawn": Note.everything.of(request.user).withdrawn()[:PAGE],
    }
    return render(request, "outings/notes/list.html", context)


@require_http_methods(["GET", "POST"])
def note_new(request):
    asked = {name: request.GET.getlist(name) for name in Note.TIES.values()}
    initial = {name: [key for key in keys if key.isascii() and key.isdigit()] for name, keys in asked.items()}
    initial.update({name: request.GET[name] for name in ("title", "text") if name in request.GET})
    return edited(request, NoteForm(request.POST or None, operator=request.user, initial=initial), "New note")


@require_GET
def note(request, pk):
    row = get_object_or_404(Note.objects.of(request.user).prefetch_related(*TIED), pk=pk)
    return render(request, "outings/notes/note.html", {"note": row, "entries": changes.history_of(row)})


@require_http_methods(["GET", "POST"])
def note_edit(request, pk):
    row = get_object_or_404(Note.objects.of(request.user), pk=pk)
    return edited(request, NoteForm(request.POST or None, operator=request.user, instance=row), "Edit note")


@require_http_methods(["GET", "POST"])
def note_withdraw(request, pk):
    row = get_object_or_404(Note.objects.of(request.user), pk=pk)
    if request.method == "POST":
        row.withdraw(request.user)
        messages.success(request, f"The note “{row}” is deleted. It can be brought back below.")
        return redirect("outings:note_list")
    context = {
        "question": f"Delete the note “{row}”?", "consequence": "It can be brought back from the page of notes.",
        "action": "Delete the note", "back": row.get_absolute_url(),
    }
    return render(request, "_confirm.html", context)


@require_POST
def note_bring_back(request, pk):
    row = get_object_or_404(Note.everything.of(request.user).withdrawn(), pk=pk)
    row.bring_back(request.user)
    messages.success(request, f"The note “{row}” is back.")
    return redirect(row)


def edited(request, form, heading):
    """Show the form, or keep what was written."""
    if request.method == "POST" and form.is_valid():
        row = form.save()
        messages.success(request, f"The note “{row}” is kept.")
        return redirect(row)
    context = {"form": form, "heading": heading}
    return render(request, "outings/notes/form.html", context, status=422 if form.errors else 200)
