"""Can I join these two packs?"""

from django.views.decorators.http import require_GET

from equipment.forms.bench.joining import JoiningForm
from equipment.queries.bench.joining import joining_answers

from .answering import answered


@require_GET
def joining(request):
    return answered(request, "joining", JoiningForm(request.GET, operator=request.user), joining_answers)
