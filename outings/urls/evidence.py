"""The addresses of evidence, below /evidence/."""

from django.urls import path

from outings.views import evidence, stories

urlpatterns = [
    path("", evidence.evidence, name="evidence"),
    path("of/<slug:kind>/<int:pk>/", stories.story, name="story"),
]
