"""The addresses of outings as planned, under outings/."""

from django.urls import path

from outings.views import plans

urlpatterns = [
    path("", plans.outing_list, name="outing_list"),
    path("new/", plans.outing_new, name="outing_new"),
    path("<int:pk>/", plans.plan, name="plan"),
    path("<int:pk>/edit/", plans.outing_edit, name="outing_edit"),
    path("<int:pk>/copy/", plans.outing_copy, name="outing_copy"),
    path("<int:pk>/delete/", plans.outing_delete, name="outing_delete"),
    path("<int:pk>/restore/", plans.outing_restore, name="outing_restore"),
]
