"""The addresses of gear and kits."""

app_name = "equipment"

urlpatterns = []
