"""The addresses of plans."""

urlpatterns = []
