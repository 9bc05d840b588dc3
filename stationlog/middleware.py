"""Until there is an operator, every address leads to the set-up page."""

from django.shortcuts import redirect
from django.urls import reverse

from .models import Operator


def first_visit(get_response):
    """Send visitors to the set-up page while nobody has an account; costs a query for strangers only."""

    def middleware(request):
        set_up = reverse("setup")
        if request.path != set_up and not request.user.is_authenticated and not Operator.objects.exists():
            return redirect(set_up)
        return get_response(request)

    return middleware
