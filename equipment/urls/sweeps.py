"""The addresses of sweeps: /gear/arrangements/<pk>/sweeps/ and /gear/sweeps/..."""

from django.urls import path

from equipment.views import sweeps

urlpatterns = [
    path("arrangements/<int:arrangement_pk>/sweeps/new/", sweeps.sweep_new, name="sweep_new"),
    path("sweeps/", sweeps.sweep_compare, name="sweep_compare"),
    path("sweeps/<int:pk>/", sweeps.sweep, name="sweep"),
    path("sweeps/<int:pk>/edit/", sweeps.sweep_edit, name="sweep_edit"),
    path("sweeps/<int:pk>/withdraw/", sweeps.sweep_withdraw, name="sweep_withdraw"),
    path("sweeps/<int:pk>/bring-back/", sweeps.sweep_bring_back, name="sweep_bring_back"),
    path("sweeps/<int:pk>/original/", sweeps.sweep_original, name="sweep_original"),
    path("sweeps/<int:pk>/touchstone/<str:plane>/", sweeps.sweep_touchstone, name="sweep_touchstone"),
]
