"""The addresses of what was measured on packs: /gear/<pk>/readings/ and /gear/readings/..."""

from django.urls import path

from equipment.views import readings

urlpatterns = [
    path("<int:pack_pk>/readings/", readings.reading_list, name="reading_list"),
    path("<int:pack_pk>/readings/new/", readings.reading_new, name="reading_new"),
    path("readings/<int:pk>/edit/", readings.reading_edit, name="reading_edit"),
    path("readings/<int:pk>/withdraw/", readings.reading_withdraw, name="reading_withdraw"),
    path("readings/<int:pk>/bring-back/", readings.reading_bring_back, name="reading_bring_back"),
]
