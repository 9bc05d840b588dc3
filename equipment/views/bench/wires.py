"""How long must the wire be?"""

from functools import partial

from django.views.decorators.http import require_GET

from equipment.forms.bench.wires import WireForm
from equipment.queries.bench.wires import wire_answers

from .answering import answered


@require_GET
def wires(request):
    compute = partial(wire_answers, units=request.user.units)
    return answered(request, "wires", WireForm(request.GET, operator=request.user), compute)
