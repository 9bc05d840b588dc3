"""Which coil does this whip need, and what if another whip goes on that coil?"""

from functools import partial

from django.views.decorators.http import require_GET

from equipment.forms.bench.other_whips import OtherWhipForm
from equipment.forms.bench.whips import WhipForm
from equipment.queries.bench.other_whips import other_whip_answers
from equipment.queries.bench.whips import whip_answers

from .answering import answered


@require_GET
def whips(request):
    compute = partial(whip_answers, units=request.user.units)
    return answered(request, "whips", WhipForm(request.GET, operator=request.user), compute)


@require_GET
def other_whips(request):
    compute = partial(other_whip_answers, units=request.user.units)
    return answered(request, "other_whips", OtherWhipForm(request.GET, operator=request.user), compute)
