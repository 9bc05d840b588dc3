"""Accounts: set-up, login, preferences, and further operators."""

from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash, views
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import PasswordChangeForm
from django.core.exceptions import PermissionDenied
from django.core.management import call_command
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from stationlog.forms import InvitationForm, LoginForm, NewOperatorForm, PreferencesForm, SetUpForm
from stationlog.models import DEMO_CALL, Invitation, Operator, PhonePairing

MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"

log_in = views.LoginView.as_view(
    template_name="stationlog/login.html", authentication_form=LoginForm, redirect_authenticated_user=True
)
leave = views.LogoutView.as_view()


@login_not_required
def log_out(request):
    """Log out; a phone that does is not paired any more."""
    if request.method == "POST" and request.user.is_authenticated:
        PhonePairing.objects.of(request.user).filter(pk=request.session.get(PhonePairing.SESSION_KEY)).delete()
    return leave(request)


@never_cache
@login_not_required
@sensitive_post_parameters()
def set_up(request):
    if not Operator.objects.nobody_yet():
        return redirect("start")
    operator = None
    with transaction.atomic():  # of two who hold the code at the same moment, one finds it gone
        invitation = Invitation.objects.for_set_up().open().select_for_update().first()
        form = SetUpForm(request.POST or None, initial={"code": request.GET.get("code", "")}, invitation=invitation)
        if request.method == "POST" and form.is_valid():
            operator = form.save()
    if operator:
        login(request, operator, backend=MODEL_BACKEND)
        if form.cleaned_data["demo"]:
            call_command("demo", operator=operator.call_sign)
            messages.success(request, "Your account is ready, and the demo scenario is in it.")
        else:
            messages.success(request, "Your account is ready.")
        return redirect("start")
    context = {"form": form, "demo_call": DEMO_CALL if Operator.objects.exists() else ""}
    return render(request, "stationlog/set_up.html", context, status=422 if form.errors else 200)


@never_cache
@login_not_required
@sensitive_post_parameters()
def join(request, code):
    operator = None
    with transaction.atomic():
        invitation = Invitation.objects.from_keeper().open().with_code(code).select_for_update().first()
        if invitation is None:
            return render(request, "stationlog/join_void.html", status=404)
        form = NewOperatorForm(request.POST or None, invitation=invitation)
        if request.method == "POST" and form.is_valid():
            operator = form.save()
    if operator:
        login(request, operator, backend=MODEL_BACKEND)
        messages.success(request, "Your account is ready.")
        return redirect("start")
    context = {"form": form, "invitation": invitation}
    return render(request, "stationlog/join.html", context, status=422 if form.errors else 200)


def account(request):
    form = PreferencesForm(request.POST or None, instance=Operator.objects.get(pk=request.user.pk))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Preferences saved.")
        return redirect("account")
    return render(request, "stationlog/account.html", {"form": form}, status=422 if form.errors else 200)


@require_POST
def theme(request):
    wanted = request.POST.get("theme", "")
    if wanted in Operator.Theme:
        request.user.theme = wanted
        request.user.save(update_fields=["theme"])
    back = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure()):
        back = reverse("account")
    return redirect(back)


@sensitive_post_parameters()
def password(request):
    form = PasswordChangeForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.save()
        update_session_auth_hash(request, form.user)
        here = request.session.get(PhonePairing.SESSION_KEY)
        PhonePairing.objects.of(form.user).exclude(pk=here).delete()  # their sessions ended with the old password
        messages.success(request, "Password changed. Other devices have to log in again.")
        return redirect("account")
    return render(request, "stationlog/password.html", {"form": form}, status=422 if form.errors else 200)


def kept_by(request):
    """The keeper who asks; nobody else manages accounts."""
    if not request.user.keeper:
        raise PermissionDenied
    return request.user


@never_cache
def operators(request):
    keeper = kept_by(request)
    form = InvitationForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        code = form.save(keeper)
        request.session["invitation"] = request.build_absolute_uri(reverse("join", args=[code]))
        return redirect("operators")
    context = {
        "form": form,
        "link": request.session.pop("invitation", None),  # shown once: only a digest is stored
        "operators": Operator.objects.order_by("call_sign"),
        "invitations": Invitation.objects.from_keeper().open(),
    }
    return render(request, "stationlog/operators.html", context, status=422 if form.errors else 200)


@require_POST
def invitation_withdraw(request, pk):
    kept_by(request)
    get_object_or_404(Invitation.objects.from_keeper(), pk=pk).use()
    messages.success(request, "Invitation withdrawn.")
    return redirect("operators")


@require_POST
def operator_switch(request, pk):
    operator = get_object_or_404(Operator.objects.exclude(pk=kept_by(request).pk), pk=pk)
    operator.switch(request.POST.get("to") == "open")
    messages.success(request, f"The account of {operator} is {'open' if operator.is_active else 'closed'}.")
    return redirect("operators")
