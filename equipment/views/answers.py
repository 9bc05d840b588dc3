"""How pages of the gear answer: a form that is shown, grown or saved, and a row that is deleted or kept."""

from django.contrib import messages
from django.db.models import ProtectedError
from django.shortcuts import redirect, render

from equipment.queries import references


def form_answer(request, form, template, context, said):
    """Show the form, show it with more rows, refuse it with what was typed, or save it and go to its row."""
    status = 200
    if getattr(form, "asks_for_more", False):
        form = form.with_more_rows()
    elif form.is_bound and form.is_valid():
        row = form.save()
        messages.success(request, said.format(row))
        return redirect(row)
    elif form.is_bound:
        status = 422
    return render(request, template, {**context, "form": form}, status=status)


def deletion_answer(request, row, what, after):
    """Ask before a row is deleted, delete it, or say what refers to it and offer to retire it."""
    found = references(row)
    if request.method == "POST" and not found:
        name = str(row)
        try:
            row.delete()
        except ProtectedError:  # something came to refer to it in this very moment
            found = references(row)
        else:
            messages.success(request, f"{name} is deleted.")
            return redirect(after)
    status = 409 if request.method == "POST" else 200
    context = {"row": row, "what": what, "references": found}
    return render(request, "equipment/delete.html", context, status=status)
