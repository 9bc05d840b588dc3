"""Pictures of the gear: sent in, removed, and handed out to their owner only."""

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponseNotModified
from django.shortcuts import get_object_or_404, redirect
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_GET, require_POST

from equipment.forms.pictures import ItemPictureForm
from equipment.models import Item

from .answers import form_answer

A_YEAR_S = 365 * 24 * 3600


def picture_answer(request, picture):
    """Hand out the file of an ImageField that the caller has found to be the reader's own.

    A picture never changes under its name, so the browser may keep it, but no proxy.
    """
    etag = f'"{picture.name.rsplit("/", 1)[-1]}"'
    if etag in request.headers.get("If-None-Match", ""):
        response = HttpResponseNotModified()
    else:
        try:
            response = FileResponse(picture.open("rb"), content_type="image/jpeg")
        except FileNotFoundError as error:
            raise Http404 from error
    response["ETag"] = etag
    response["Content-Disposition"] = "inline"
    patch_cache_control(response, private=True, max_age=A_YEAR_S, immutable=True)
    return response


def picture_edit(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk)
    form = ItemPictureForm(*((request.POST, request.FILES) if request.method == "POST" else ()), instance=piece)
    return form_answer(request, form, "equipment/picture_form.html", {"item": piece}, "The picture of {} is kept.")


@require_POST
def picture_remove(request, pk):
    piece = get_object_or_404(Item.objects.of(request.user), pk=pk)
    piece.hide()
    messages.success(request, f"The picture of {piece} is removed.")
    return redirect(piece)


@require_GET
def picture(request, pk, name):
    piece = get_object_or_404(Item.objects.of(request.user).exclude(picture=""), pk=pk)
    if piece.picture_name != name:
        raise Http404
    return picture_answer(request, piece.picture)
