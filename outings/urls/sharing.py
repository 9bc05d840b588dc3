"""The addresses of what is shown to others: sharing/ for its owner, shared/ for everybody."""

from django.urls import path

from outings.views import sharing

urlpatterns = [
    path("sharing/", sharing.sharing, name="sharing"),
    path("sharing/<slug:kind>/<int:pk>/", sharing.share, name="share"),
    path("sharing/<int:pk>/withdraw/", sharing.share_withdraw, name="share_withdraw"),
    path("shared/<str:token>/", sharing.shared, name="shared"),
]
