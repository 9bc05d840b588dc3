"""Pages of the gear: the list, one piece, and what is done with it."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from equipment.forms.gear import ITEM_FORMS, MODELS, GearFilter
from equipment.models import Item, Kit
from equipment.queries import gear, gear_rows
from equipment.queries.pack_logs import pack_health

from .answers import deletion_answer, form_answer

A_PAGE = 100


@require_GET
@vary_on_headers("HX-Request")
def gear_list(request):
    choice = GearFilter(request.GET)
    chosen = choice.chosen()
    page = Paginator(gear(request.user, **chosen), A_PAGE).get_page(request.GET.get("page"))
    context = {
        "choice": choice, "chosen": chosen, "page": page, "rows": gear_rows(page.object_list),
        "is_narrowed": any(chosen[name] for name in ("q", "kind", "state")),
    }
    template = "equipment/_gear_rows.html" if request.htmx else "equipment/gear_list.html"
    return render(request, template, context)


@require_GET
def item_kinds(request):
    return render(request, "equipment/item_kinds.html", {"kinds": Item.Kind.choices})


def item_new(request, kind):
    if kind not in MODELS:
        raise Http404
    piece = MODELS[kind](owner=request.user)
    form = ITEM_FORMS[kind](request.POST or None, instance=piece, units=request.user.units)
    context = {"title": f"New {Item.Kind(kind).label}", "kind": kind}
    return form_answer(request, form, "equipment/item_form.html", context, "{} is kept.")


@require_GET
def item(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk).as_kind()
    context = {"item": piece, "kits": Kit.objects.of(request.user).with_item(piece)}
    if piece.kind == Item.Kind.PACK:
        context["health"] = pack_health(piece)
    return render(request, f"equipment/{piece.kind}.html", context)


def item_edit(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk).as_kind()
    title = f"Edit {piece}"
    form = ITEM_FORMS[piece.kind](request.POST or None, instance=piece, units=request.user.units)
    context = {"title": title, "kind": piece.kind, "back": piece.get_absolute_url()}
    return form_answer(request, form, "equipment/item_form.html", context, "{} is saved.")


@require_POST
def item_copy(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk).as_kind()
    twin = piece.copy()
    messages.success(request, f"{piece} is copied with everything below it. Give the copy its own name.")
    return redirect("equipment:item_edit", twin.pk)


@require_POST
def item_retire(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk)
    piece.retire(timezone.now().date())
    messages.success(request, f"{piece} is retired. The log keeps it; kits and new outings no longer offer it.")
    return redirect(piece)


@require_POST
def item_take_back(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk)
    piece.take_back()
    messages.success(request, f"{piece} is in use again.")
    return redirect(piece)


def item_delete(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk).as_kind()
    return deletion_answer(request, piece, "item", "equipment:gear")
