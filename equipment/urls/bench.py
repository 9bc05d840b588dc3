"""The addresses of the bench: /bench/..., one for each question of `equipment/queries/bench/questions.py`."""

from django.urls import path

from equipment.views.bench import feedlines, joining, packs, people, questions, whips, wires

urlpatterns = [
    path("", questions.bench, name="bench"),
    path("charge-state/", packs.charge_state, name="charge_state"),
    path("lasting/", packs.lasting, name="lasting"),
    path("charging/", packs.charging, name="charging"),
    path("dc-path/", packs.dc_path, name="dc_path"),
    path("joining/", joining.joining, name="joining"),
    path("wires/", wires.wires, name="wires"),
    path("whips/", whips.whips, name="whips"),
    path("other-whips/", whips.other_whips, name="other_whips"),
    path("feedlines/", feedlines.feedlines, name="feedlines"),
    path("people/", people.people, name="people"),
]
