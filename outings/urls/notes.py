"""The addresses of notes."""

urlpatterns = []
