"""The theme switch of every page's head."""

from django.contrib import messages
from django.http import HttpResponseRedirect
from django.shortcuts import resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from stationlog.models import Operator


@require_POST
def switch_theme(request):
    """Give the operator another theme and go back to the page they came from."""
    theme = request.POST.get("theme")
    if theme in Operator.Theme.values:
        request.user.theme = theme
        request.user.save(update_fields=["theme"])
    else:
        messages.error(request, "There is no such theme. Choose one of those in the account menu.")
    back = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure()):
        back = resolve_url("start")
    return HttpResponseRedirect(back)
