"""The addresses of contacts."""

urlpatterns = []
