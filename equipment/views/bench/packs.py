"""How full is this pack? Will it last? How long does it charge? Does enough voltage reach the radio?"""

from django.views.decorators.http import require_GET

from equipment.forms.bench.charge_state import ChargeStateForm
from equipment.forms.bench.charging import ChargingForm
from equipment.forms.bench.dc_path import DcPathForm
from equipment.forms.bench.lasting import LastingForm
from equipment.queries.bench.charge_state import charge_state_answers
from equipment.queries.bench.charging import charging_answers
from equipment.queries.bench.dc_path import dc_path_answers

from .answering import answered


@require_GET
def charge_state(request):
    return answered(
        request, "charge_state", ChargeStateForm(request.GET, operator=request.user), charge_state_answers
    )


@require_GET
def lasting(request):
    form = LastingForm(request.GET, operator=request.user)
    return answered(request, "lasting", form, lambda **asked: form.answers())


@require_GET
def charging(request):
    return answered(request, "charging", ChargingForm(request.GET, operator=request.user), charging_answers)


@require_GET
def dc_path(request):
    return answered(request, "dc_path", DcPathForm(request.GET, operator=request.user), dc_path_answers)
