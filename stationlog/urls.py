"""The root addresses: accounts and the start page here, the rest in the apps."""

from django.urls import include, path

from .views import accounts, guide, phones
from .views.start import demo_load, demo_remove, start
from .views.waiting import progress

handler500 = "stationlog.views.trouble.broken"

urlpatterns = [
    path("", start, name="start"),
    path("demo/", demo_load, name="demo_load"),
    path("demo/remove/", demo_remove, name="demo_remove"),
    path("setup/", accounts.set_up, name="setup"),
    path("join/<str:code>/", accounts.join, name="join"),
    path("login/", accounts.log_in, name="login"),
    path("logout/", accounts.log_out, name="logout"),
    path("account/", accounts.account, name="account"),
    path("account/theme/", accounts.theme, name="theme"),
    path("account/password/", accounts.password, name="password"),
    path("account/operators/", accounts.operators, name="operators"),
    path("account/operators/invitations/<int:pk>/withdraw/", accounts.invitation_withdraw, name="invitation_withdraw"),
    path("account/operators/<int:pk>/switch/", accounts.operator_switch, name="operator_switch"),
    path("account/phones/", phones.phones, name="phones"),
    path("account/phones/certificate/", phones.phone_certificate, name="phone_certificate"),
    path("account/phones/<int:pk>/name/", phones.phone_name, name="phone_name"),
    path("account/phones/<int:pk>/unpair/", phones.phone_unpair, name="phone_unpair"),
    path("progress/", progress, name="progress"),
    path("help/", guide.guide, name="guide"),
    path("help/<slug:chapter>/", guide.guide_chapter, name="guide_chapter"),
    path("pair/<str:token>/", phones.phone_enter, name="phone_enter"),
    path("", include("equipment.urls")),
    path("", include("outings.urls")),
]
