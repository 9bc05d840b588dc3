"""How far that is which a page waits for."""

from django.http import JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from outings import waiting


@require_GET
@never_cache
def progress(request):
    name = request.GET.get("of", "")
    return JsonResponse(waiting.noted(name) if waiting.NAME.fullmatch(name) else {})
