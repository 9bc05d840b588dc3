"""The addresses of what was measured on packs: /gear/<pk>/readings/, /gear/<pk>/logs/, /gear/readings/, /gear/logs/"""

from django.urls import path

from equipment.views import pack_logs, readings

urlpatterns = [
    path("<int:pack_pk>/readings/", readings.reading_list, name="reading_list"),
    path("<int:pack_pk>/readings/new/", readings.reading_new, name="reading_new"),
    path("readings/<int:pk>/edit/", readings.reading_edit, name="reading_edit"),
    path("readings/<int:pk>/withdraw/", readings.reading_withdraw, name="reading_withdraw"),
    path("readings/<int:pk>/bring-back/", readings.reading_bring_back, name="reading_bring_back"),
    path("<int:pack_pk>/logs/", pack_logs.pack_log_list, name="pack_log_list"),
    path("<int:pack_pk>/logs/new/", pack_logs.pack_log_new, name="pack_log_new"),
    path("logs/<int:pk>/", pack_logs.pack_log, name="pack_log"),
    path("logs/<int:pk>/file/", pack_logs.pack_log_file, name="pack_log_file"),
    path("logs/<int:pk>/use/", pack_logs.pack_log_use, name="pack_log_use"),
    path("logs/<int:pk>/withdraw/", pack_logs.pack_log_withdraw, name="pack_log_withdraw"),
    path("logs/<int:pk>/bring-back/", pack_logs.pack_log_bring_back, name="pack_log_bring_back"),
]
