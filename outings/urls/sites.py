"""The addresses of sites."""

urlpatterns = []
