"""Pages of a pack's logs: a file looked at and kept, a capacity test or charge, health over time."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import get_valid_filename
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from equipment.forms.pack_logs import PackLogForm
from equipment.models import Pack, PackLog
from equipment.queries.pack_logs import look_again, pack_health


@require_GET
def pack_log_list(request, pack_pk):
    pack = get_object_or_404(Pack.objects.of(request.user), pk=pack_pk)
    withdrawn = PackLog.everything.of(request.user).filter(pack=pack).exclude(deleted_at=None).without_file()
    context = {"item": pack, "health": pack_health(pack), "withdrawn": withdrawn}
    return render(request, "equipment/pack_log_list.html", context)


@require_http_methods(["GET", "POST"])
def pack_log_new(request, pack_pk):
    pack = get_object_or_404(Pack.objects.of(request.user), pk=pack_pk)
    form = PackLogForm(
        request.POST if request.method == "POST" else None, request.FILES or None, pack=pack, actor=request.user
    )
    is_valid = form.is_bound and form.is_valid()
    if is_valid and form.keeps:
        row, readings = form.save()
        messages.success(request, f"The {row} is kept." if row else f"{readings} readings are kept.")
        return redirect(row or "equipment:reading_list", *([] if row else [pack.pk]))
    status = 422 if form.is_bound and not is_valid else 200
    return render(request, "equipment/pack_log_form.html", {"item": pack, "form": form}, status=status)


@require_GET
def pack_log(request, pk):
    row = get_object_or_404(PackLog.objects.of(request.user).select_related("pack"), pk=pk)
    try:
        look = look_again(row)
    except ValueError as error:  # the pack's limits, or how files are read, may have changed since
        look = None
        messages.error(request, f"The file cannot be drawn any more: {error}. What was found in it is kept below.")
    return render(request, "equipment/pack_log.html", {"row": row, "item": row.pack, "look": look})


@require_GET
def pack_log_file(request, pk):
    row = get_object_or_404(PackLog.objects.of(request.user), pk=pk)
    response = HttpResponse(row.file, content_type="text/csv; charset=utf-8")
    name = get_valid_filename(row.file_name.replace("/", "_")) if row.file_name.strip("./ ") else "log.csv"
    response["Content-Disposition"] = f'attachment; filename="{name.encode("ascii", "replace").decode()}"'
    return response


@require_POST
def pack_log_use(request, pk):
    row = get_object_or_404(PackLog.objects.of(request.user).without_file().select_related("pack"), pk=pk)
    if row.use_for_pack():
        messages.success(request, f"{row.pack} now has what this log shows as its measured values.")
    else:
        messages.error(request, "This log shows neither a whole capacity nor a resistance.")
    return redirect(row)


@require_POST
def pack_log_withdraw(request, pk):
    row = get_object_or_404(PackLog.objects.of(request.user), pk=pk)
    row.withdraw(request.user)
    messages.success(request, f"The {row} is withdrawn. It stays below and can be brought back.")
    return redirect("equipment:pack_log_list", row.pack_id)


@require_POST
def pack_log_bring_back(request, pk):
    row = get_object_or_404(PackLog.everything.of(request.user).exclude(deleted_at=None), pk=pk)
    row.bring_back(request.user)
    messages.success(request, f"The {row} is back.")
    return redirect(row)
