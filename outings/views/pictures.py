"""Pages of an outing's pictures: adding, showing, captions, deleting."""

from django.contrib import messages
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from outings.forms.pictures import CaptionForm, PictureForm
from outings.models import Outing, OutingPicture


@require_http_methods(["GET", "POST"])
def picture_list(request, pk):
    outing = get_object_or_404(Outing.objects.of(request.user).select_related("site"), pk=pk)
    form = PictureForm(request.POST or None, request.FILES or None, instance=OutingPicture(outing=outing))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The picture is kept.")
        return redirect("outings:picture_list", outing.pk)
    return render(request, "outings/pictures/list.html", {
        "outing": outing, "pictures": outing.pictures.all(), "form": form,
    }, status=422 if form.errors else 200)


@require_GET
@cache_control(private=True, max_age=86400)
def picture_file(request, pk, picture_pk):
    outing = get_object_or_404(Outing.objects.of(request.user), pk=pk)
    picture = get_object_or_404(outing.pictures, pk=picture_pk)
    try:
        return FileResponse(picture.picture.open("rb"), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404("The file of this picture is gone.") from None


@require_POST
def picture_caption(request, pk, picture_pk):
    outing = get_object_or_404(Outing.objects.of(request.user), pk=pk)
    form = CaptionForm(request.POST, instance=get_object_or_404(outing.pictures, pk=picture_pk))
    if form.is_valid():
        form.save()
        messages.success(request, "The caption is saved.")
    else:
        messages.error(request, " ".join(form.errors["caption"]))
    return redirect("outings:picture_list", outing.pk)


@require_http_methods(["GET", "POST"])
def picture_delete(request, pk, picture_pk):
    outing = get_object_or_404(Outing.objects.of(request.user), pk=pk)
    picture = get_object_or_404(outing.pictures, pk=picture_pk)
    if request.method == "POST":
        picture.discard()
        messages.success(request, "The picture is deleted.")
        return redirect("outings:picture_list", outing.pk)
    return render(request, "_confirm.html", {
        "question": f"Delete the picture {picture.caption}?" if picture.caption else "Delete this picture?",
        "consequence": "The file is removed for good.", "action": "Delete the picture",
        "back": redirect("outings:picture_list", outing.pk).url,
    })
