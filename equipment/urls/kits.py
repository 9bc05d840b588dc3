"""The addresses of kits: /gear/kits/..."""

from django.urls import path

from equipment.views import kits

urlpatterns = [
    path("", kits.kit_list, name="kit_list"),
    path("new/", kits.kit_new, name="kit_new"),
    path("<int:pk>/", kits.kit, name="kit"),
    path("<int:pk>/edit/", kits.kit_edit, name="kit_edit"),
    path("<int:pk>/copy/", kits.kit_copy, name="kit_copy"),
    path("<int:pk>/retire/", kits.kit_retire, name="kit_retire"),
    path("<int:pk>/take-back/", kits.kit_take_back, name="kit_take_back"),
    path("<int:pk>/delete/", kits.kit_delete, name="kit_delete"),
]
