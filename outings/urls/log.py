"""The addresses of log: /outings/<pk>/log/..."""

from django.urls import path

from outings.views import log, stints

urlpatterns = [
    path("<int:pk>/log/", log.log, name="log"),
    path("<int:pk>/log/figures/", log.log_figures, name="log_figures"),
    path("<int:pk>/log/announce/", log.log_announce, name="log_announce"),
    path("<int:pk>/log/contacts/", log.contact_log, name="contact_log"),
    path("<int:pk>/log/contacts/known/", log.contact_known, name="contact_known"),
    path("<int:pk>/log/contacts/strays/", log.contact_strays, name="contact_strays"),
    path("<int:pk>/log/contacts/<int:contact_pk>/mend/", log.contact_mend, name="contact_mend"),
    path("<int:pk>/log/contacts/<int:contact_pk>/take-back/", log.contact_take_back, name="contact_take_back"),
    path("<int:pk>/log/contacts/<int:contact_pk>/bring-back/", log.contact_bring_back, name="contact_bring_back"),
    path("<int:pk>/log/stints/begin/", stints.stint_begin, name="stint_begin"),
    path("<int:pk>/log/stints/add/", stints.stint_add, name="stint_add"),
    path("<int:pk>/log/stints/<int:stint_pk>/", stints.stint_correct, name="stint_correct"),
    path("<int:pk>/log/stints/<int:stint_pk>/change/", stints.stint_change, name="stint_change"),
    path("<int:pk>/log/stints/<int:stint_pk>/pause/", stints.stint_pause, name="stint_pause"),
    path("<int:pk>/log/stints/<int:stint_pk>/resume/", stints.stint_resume, name="stint_resume"),
    path("<int:pk>/log/stints/<int:stint_pk>/stop/", stints.stint_stop, name="stint_stop"),
    path("<int:pk>/log/stints/<int:stint_pk>/boundary/", stints.stint_boundary, name="stint_boundary"),
    path("<int:pk>/log/stints/<int:stint_pk>/delete/", stints.stint_delete, name="stint_delete"),
]
