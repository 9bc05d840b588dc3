"""The addresses that a phone in the field asks, below field/."""

from django.urls import path

from outings.views import field

urlpatterns = [
    path("", field.page, name="field"),
    path("worker.js", field.worker, name="field_worker"),
    path("manifest.webmanifest", field.manifest, name="field_manifest"),
    path("hello/", field.hello, name="field_hello"),
    path("outings/", field.outings, name="field_outings"),
    path("outings/<uuid:identity>/", field.outing, name="field_outing"),
    path("hand-in/", field.hand_in, name="field_hand_in"),
]
