"""The addresses of checklists, under outings/."""

from django.urls import path

from outings.views import checklists

urlpatterns = [
    path("standing-lines/", checklists.standing_lines, name="standing_lines"),
    path("standing-lines/starters/", checklists.standing_starters, name="standing_starters"),
    path("<int:pk>/checklist/", checklists.checklist, name="checklist"),
    path("<int:pk>/checklist/make/", checklists.checklist_make, name="checklist_make"),
    path("<int:pk>/checklist/add/", checklists.checklist_line_add, name="checklist_line_add"),
    path("<int:pk>/checklist/paper/", checklists.checklist_paper, name="checklist_paper"),
    path("<int:pk>/checklist/<int:line_pk>/", checklists.checklist_line_edit, name="checklist_line_edit"),
    path("<int:pk>/checklist/<int:line_pk>/tick/", checklists.checklist_line_tick, name="checklist_line_tick"),
    path("<int:pk>/checklist/<int:line_pk>/move/", checklists.checklist_line_move, name="checklist_line_move"),
]
