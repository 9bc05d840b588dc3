"""The addresses of sites, outings, logs and what they show, a module an area."""

from django.urls import include, path

app_name = "outings"

urlpatterns = [
    path("sites/", include("outings.urls.sites")),
    path("outings/", include("outings.urls.plans")),
    path("outings/", include("outings.urls.checklists")),
    path("outings/", include("outings.urls.log")),
    path("outings/", include("outings.urls.fair_tests")),
    path("outings/", include("outings.urls.receptions")),
    path("outings/", include("outings.urls.hand_in")),
    path("outings/", include("outings.urls.pictures")),
    path("outings/", include("outings.urls.phones")),
    path("outings/", include("outings.urls.members")),
    path("contacts/", include("outings.urls.contacts")),
    path("field/", include("outings.urls.field")),
    path("files/", include("outings.urls.files")),
    path("performance/", include("outings.urls.performance")),
    path("evidence/", include("outings.urls.evidence")),
    path("outings/", include("outings.urls.reports")),
    path("", include("outings.urls.sharing")),
    path("notes/", include("outings.urls.notes")),
]
