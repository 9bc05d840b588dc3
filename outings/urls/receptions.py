"""The addresses of reception reports: /outings/<pk>/heard/..."""

from django.urls import path

from outings.views import receptions

urlpatterns = [
    path("<int:pk>/heard/", receptions.reception, name="reception"),
    path("<int:pk>/heard/<int:file_pk>/", receptions.reception_file, name="reception_file"),
    path("<int:pk>/heard/<int:file_pk>/delete/", receptions.reception_delete, name="reception_delete"),
]
