"""The page that tells the whole story of one piece of gear on the air."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from outings.queries import stories


@require_GET
def story(request, kind, pk):
    if kind not in stories.KINDS:
        raise Http404
    thing = get_object_or_404(stories.KINDS[kind].model.objects.of(request.user), pk=pk)
    return render(request, "outings/evidence/story.html", {
        "thing": thing, "kind": kind, "story": stories.story(request.user, kind, thing),
    })
