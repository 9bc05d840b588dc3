"""The addresses of performance, below /performance/."""

from django.urls import path

from outings.views import performance

urlpatterns = [
    path("", performance.figures, name="performance"),
    path("contacts/", performance.contacts_behind, name="performance_contacts"),
    path("stints/", performance.stints_behind, name="performance_stints"),
]
