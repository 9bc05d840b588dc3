"""The addresses of evidence, below /evidence/."""

from django.urls import path

from outings.views import evidence

urlpatterns = [
    path("", evidence.evidence, name="evidence"),
]
