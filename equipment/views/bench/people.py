"""How far away do people stay?"""

from functools import partial

from django.views.decorators.http import require_GET

from equipment.forms.bench.people import PeopleForm
from equipment.queries.bench.people import people_answers

from .answering import answered


@require_GET
def people(request):
    compute = partial(people_answers, units=request.user.units)
    return answered(request, "people", PeopleForm(request.GET, operator=request.user), compute)
