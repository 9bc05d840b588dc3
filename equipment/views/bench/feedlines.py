"""What arrives at the antenna?"""

from functools import partial

from django.views.decorators.http import require_GET

from equipment.forms.bench.feedlines import FeedlineForm
from equipment.queries.bench.feedlines import feedline_answers

from .answering import answered


@require_GET
def feedlines(request):
    compute = partial(feedline_answers, units=request.user.units)
    return answered(request, "feedlines", FeedlineForm(request.GET, operator=request.user), compute)
