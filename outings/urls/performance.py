"""The addresses of performance."""

urlpatterns = []
