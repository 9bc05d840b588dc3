"""The addresses of an outing's pictures, under outings/."""

from django.urls import path

from outings.views import pictures

urlpatterns = [
    path("<int:pk>/pictures/", pictures.picture_list, name="picture_list"),
    path("<int:pk>/pictures/<int:picture_pk>.jpg", pictures.picture_file, name="picture_file"),
    path("<int:pk>/pictures/<int:picture_pk>/caption/", pictures.picture_caption, name="picture_caption"),
    path("<int:pk>/pictures/<int:picture_pk>/delete/", pictures.picture_delete, name="picture_delete"),
]
