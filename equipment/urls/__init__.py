"""The addresses of gear, kits and the bench, a module an area."""

from django.urls import include, path

app_name = "equipment"

urlpatterns = [
    path("gear/kits/", include("equipment.urls.kits")),
    path("gear/", include("equipment.urls.packs")),
    path("gear/", include("equipment.urls.sweeps")),
    path("gear/", include("equipment.urls.coils")),
    path("gear/", include("equipment.urls.gear")),
    path("bench/", include("equipment.urls.bench")),
]
