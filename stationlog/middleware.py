"""What stands before every page: the first visit, cookies over HTTPS, who waits, unpaired phones, who is at work."""

import contextlib

from django.contrib.auth import logout
from django.db import DatabaseError
from django.http import FileResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from equipment import numerals, progress
from equipment.models import gear_history
from outings import waiting
from outings.views.field import HANDED_IN_BY

from .models import Operator, PhonePairing

PHONE = PhonePairing.SESSION_KEY


def first_visit(get_response):
    """Send visitors to the set-up page while nobody has an account; costs a query for strangers only.

    The account for looking around can be logged in to before.
    """

    def middleware(request):
        set_up, log_in = reverse("setup"), reverse("login")
        if request.path == set_up or request.user.is_authenticated or not Operator.objects.nobody_yet():
            return get_response(request)
        if request.path == log_in and Operator.objects.exists():
            return get_response(request)
        return redirect(set_up)

    return middleware


def secure_cookies(get_response):
    """Mark the cookies of answers over HTTPS as secure.

    With `start --phone` the same program is reached in the clear on loopback and over HTTPS on the network, under
    different names, so neither sees the cookies of the other; one setting for both would log one of them out.
    """

    def middleware(request):
        response = get_response(request)
        if request.is_secure():
            for cookie in response.cookies.values():
                cookie["secure"] = True
        return response

    return middleware


def awaited(get_response):
    """Note how far an answer is, for the page that waits for it and asks; costs nothing where none does.

    An answer that is a file leaves the page where it is, so a cookie tells that it begins to arrive.
    """

    def middleware(request):
        name = waiting.name_in(request)
        if name is None:
            return get_response(request)
        note = waiting.Note(name)
        with progress.heard_by(note):
            response = get_response(request)
        if response.streaming and not isinstance(response, FileResponse):
            response.streaming_content = note.to_its_end(response.streaming_content)
        else:
            note.forget()
        if "Content-Disposition" in response:
            response.set_cookie("arrived", name, max_age=60, samesite="Lax")
        return response

    return middleware


def sent_files(get_response):
    """Tell a page that sent a file by script where it goes on: a script only sees a redirect that it has followed."""

    def middleware(request):
        response = get_response(request)
        if request.headers.get("X-Sent-By") == "script" and response.status_code in (302, 303):
            response.status_code = 204
            response["X-Go-On"] = response["Location"]
            del response["Location"]
        return response

    return middleware


def acting(get_response):
    """Let the history know who changes gear; costs nothing."""

    def middleware(request):
        with gear_history.acting_as(request.user if request.user.is_authenticated else None):
            return get_response(request)

    return middleware


def decimals(get_response):
    """Show numbers with the sign that the operator prefers, in a streamed answer to its end; costs nothing."""

    def middleware(request):
        sign = request.user.decimal_sign if request.user.is_authenticated else numerals.POINT
        with numerals.decimals_after(sign):
            response = get_response(request)
        if response.streaming and not isinstance(response, FileResponse):
            response.streaming_content = numerals.each_after(sign, response.streaming_content)
        return response

    return middleware


def paired_phone(get_response):
    """End the session of a phone whose pairing was ended, and note which phone it is; costs a query for phones only."""

    def middleware(request):
        paired = None
        if request.user.is_authenticated and PHONE in request.session:
            paired = PhonePairing.objects.of(request.user).paired().filter(pk=request.session[PHONE]).first()
            if paired:
                with contextlib.suppress(DatabaseError):  # a disk that takes nothing more can still be read
                    paired.see(timezone.now())
            else:
                logout(request)
        response = get_response(request)
        phone = request.session.get(HANDED_IN_BY)
        if paired and phone and phone != str(paired.phone):
            with contextlib.suppress(DatabaseError):  # what it handed in is in the log; its name can wait
                paired.hears_from(phone)
        return response

    return middleware
