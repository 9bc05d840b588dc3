"""The addresses of evidence, below /evidence/."""

from django.urls import path

from outings.views import evidence, stories

urlpatterns = [
    path("", evidence.evidence, name="evidence"),
    path("report.pdf", evidence.evidence_report, name="evidence_report"),
    path("picture.png", evidence.evidence_png, name="evidence_png"),
    path("picture.svg", evidence.evidence_svg, name="evidence_svg"),
    path("of/<slug:kind>/<int:pk>/", stories.story, name="story"),
]
