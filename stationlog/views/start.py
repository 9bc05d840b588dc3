"""The start page, and the demo scenario at the press of a button."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from outings.demo import loading
from outings.queries import start as queries
from stationlog.backups import shelf


@require_GET
def start(request):
    now = timezone.now()
    backups = shelf.state(now) if request.user.keeper else None
    return render(request, "stationlog/start.html", {"start": queries.start(request.user, now), "backups": backups})


@require_POST
def demo_load(request):
    try:
        loading.load(request.user, timezone.now().date())
    except loading.DemoError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "The demo scenario is in your log: everything of it is named “Demo”.")
    return redirect("start")


@require_http_methods(["GET", "POST"])
def demo_remove(request):
    if request.method == "POST":
        try:
            stayed = loading.remove(request.user)
        except loading.DemoError as error:
            messages.error(request, str(error))
        else:
            kept = f" Kept, because your own rows use it: {', '.join(stayed)}." if stayed else ""
            messages.success(request, f"The demo scenario is out of your log.{kept}")
        return redirect("start")
    context = {
        "question": "Take the demo scenario out of your log?",
        "consequence": "Its sites, gear, outings, contacts and notes are deleted for good, changed or not. What you "
                       "entered yourself stays, and so does what your own entries depend on.",
        "action": "Take it out", "back": "/",
    }
    return render(request, "_confirm.html", context)
