"""The addresses of the coils of antennas: /gear/<pk>/coils/ and /gear/coils/..."""

from django.urls import path

from equipment.views import coils

urlpatterns = [
    path("<int:antenna_pk>/coils/new/", coils.coil_new, name="coil_new"),
    path("coils/<int:pk>/", coils.coil, name="coil"),
    path("coils/<int:pk>/edit/", coils.coil_edit, name="coil_edit"),
    path("coils/<int:pk>/delete/", coils.coil_delete, name="coil_delete"),
]
