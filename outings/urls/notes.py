"""The addresses of performance notes: /notes/..."""

from django.urls import path

from outings.views import notes

urlpatterns = [
    path("", notes.note_list, name="note_list"),
    path("new/", notes.note_new, name="note_new"),
    path("<int:pk>/", notes.note, name="note"),
    path("<int:pk>/edit/", notes.note_edit, name="note_edit"),
    path("<int:pk>/withdraw/", notes.note_withdraw, name="note_withdraw"),
    path("<int:pk>/bring-back/", notes.note_bring_back, name="note_bring_back"),
]
