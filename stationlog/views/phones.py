"""Phones: pairing one by its camera, the list of those that are paired, and the certificate that they trust."""

import re

import segno
from axes.handlers.proxy import AxesProxyHandler
from axes.helpers import get_lockout_response
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.signals import user_login_failed
from django.db.models import OuterRef, Subquery
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outings.models import FieldEntry
from stationlog.forms import PairingForm, PhoneNameForm
from stationlog.models import PhonePairing
from stationlog.phones import authority, door

from .accounts import MODEL_BACKEND

GUESSES = {"username": "a phone to be paired"}  # what wrong tokens are counted under, for each address
DEVICES = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")
BROWSERS = (("EdgA?", "Edge"), ("Firefox|FxiOS", "Firefox"), ("SamsungBrowser", "Samsung Internet"),
            ("Chrome|CriOS", "Chrome"), ("Safari", "Safari"))


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def phones(request):
    served = door.open_now(settings.DATA_DIR)
    origins = reachable(request, served)
    form = PairingForm(request.POST or None, origins=origins)
    context = {"form": form, "served": served, "origins": origins, "here": request.get_host()}
    if request.method == "POST" and form.is_valid():
        # Shown in this answer, not after a redirect: so the token is kept nowhere, and reloading makes another code.
        token = form.save(request.user, timezone.now())
        context["link"] = form.cleaned_data["origin"] + reverse("phone_enter", args=[token])
        context["code"] = picture(context["link"])
        context["minutes"] = int(PhonePairing.LIFETIME.total_seconds() // 60)
    if served:
        context["authority_title"] = authority.title(served.name)
        context["certificate_code"] = picture(served.certificate_pages[0])
    handed_in = FieldEntry.objects.of(request.user).filter(phone=OuterRef("phone")).order_by("-id")
    paired = PhonePairing.objects.of(request.user).paired().annotate(
        handed_in_at=Subquery(handed_in.values("received_at")[:1])
    )
    context["paired"] = paired
    context["strays"] = list(paired.strays(origins).origins()) if origins else []
    return render(request, "stationlog/phones.html", context, status=422 if form.errors else 200)


def reachable(request, served):
    """The addresses by which a phone can come in, the one that stays first."""
    if request.is_secure():  # by our own door, or through a proxy: the one that works here works for the phone
        own = f"https://{request.get_host()}"
        return [own, *(origin for origin in (served.origins if served else ()) if origin != own)]
    return list(served.origins) if served else []


def picture(text):
    """A QR code as the address of a picture."""
    return segno.make(text, error="m").svg_data_uri(scale=6, border=4, dark="#000", light="#fff")


@require_safe
def phone_certificate(request):
    served = door.noted(settings.DATA_DIR)
    if served is None:
        raise Http404("no certificate is in use")
    answer = HttpResponse(door.authority_kept(settings.DATA_DIR, served).der, content_type="application/x-x509-ca-cert")
    answer["Content-Disposition"] = 'attachment; filename="stationlog.crt"'
    return answer


@require_POST
def phone_name(request, pk):
    phone = get_object_or_404(PhonePairing.objects.of(request.user).paired(), pk=pk)
    form = PhoneNameForm(request.POST, instance=phone)
    if form.is_valid():
        form.save()
        messages.success(request, f"The phone is called {phone} now.")
    else:
        messages.error(request, "A name has at most 40 letters.")
    return redirect("phones")


@require_POST
def phone_unpair(request, pk):
    get_object_or_404(PhonePairing.objects.of(request.user).paired(), pk=pk).unpair()
    messages.success(request, "The phone is unpaired. What waits on it stays there until it is paired again.")
    return redirect("phones")


@never_cache
@login_not_required
@sensitive_variables("token")
@require_http_methods(["GET", "HEAD", "POST"])
def phone_enter(request, token):
    """A look at the address changes nothing, since cameras and messengers look ahead; the button logs the phone in."""
    if not AxesProxyHandler.is_allowed(request, GUESSES):
        return get_lockout_response(request, credentials=GUESSES)
    now = timezone.now()
    pairing = PhonePairing.objects.waiting(now).with_token(token).select_related("operator").first()
    if pairing is None or (request.method == "POST" and not pairing.use(device(request), now)):
        user_login_failed.send(sender=__name__, credentials=GUESSES, request=request)
        return render(request, "stationlog/phone_void.html", status=404)
    if request.method != "POST":
        return render(request, "stationlog/phone_enter.html", {"pairing": pairing})
    before = PhonePairing.objects.of(pairing.operator).filter(pk=request.session.get(PhonePairing.SESSION_KEY)).first()
    login(request, pairing.operator, backend=MODEL_BACKEND)
    request.session[PhonePairing.SESSION_KEY] = pairing.pk
    request.session.set_expiry(PhonePairing.LOGGED_IN_S)
    if before:  # the same phone, paired a second time
        PhonePairing.objects.filter(pk=pairing.pk).update(name=before.name, phone=before.phone)
        before.delete()
    return redirect("outings:field")


def device(request):
    """What a browser says that it runs on, in two words."""
    said = request.headers.get("User-Agent", "")
    system = next((word for word in DEVICES if word in said), "")
    browser = next((name for pattern, name in BROWSERS if re.search(rf"\b({pattern})/", said)), "")
    return ", ".join(filter(None, (system.replace("Macintosh", "Mac"), browser)))
