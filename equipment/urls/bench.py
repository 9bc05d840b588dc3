"""The addresses of the bench: /bench/..., one for each question of `equipment/queries/bench/questions.py`."""

from django.urls import path

from equipment.views.bench import feedlines, joining, people, questions, whips, wires

urlpatterns = [
    path("", questions.bench, name="bench"),
    path("joining/", joining.joining, name="joining"),
    path("wires/", wires.wires, name="wires"),
    path("whips/", whips.whips, name="whips"),
    path("other-whips/", whips.other_whips, name="other_whips"),
    path("feedlines/", feedlines.feedlines, name="feedlines"),
    path("people/", people.people, name="people"),
]
