"""The root addresses: accounts and the start page here, the rest in the apps."""

from django.urls import include, path

urlpatterns = [
    path("", include("equipment.urls")),
    path("", include("outings.urls")),
]
