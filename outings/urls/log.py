"""The addresses of log."""

urlpatterns = []
