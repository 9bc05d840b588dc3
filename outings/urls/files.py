"""The addresses of files."""

urlpatterns = []
