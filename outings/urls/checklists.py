"""The addresses of checklists."""

urlpatterns = []
