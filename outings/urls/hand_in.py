"""The addresses of handing in an outing's log and of its changes, under outings/."""

from django.urls import path

from outings.views import changes, hand_in

urlpatterns = [
    path("<int:pk>/hand-in/", hand_in.hand_in, name="hand_in"),
    path("<int:pk>/hand-in/<int:number>.<str:ending>", hand_in.hand_in_file, name="hand_in_file"),
    path("<int:pk>/changes/", changes.outing_changes, name="outing_changes"),
]
