"""The addresses of sites, under sites/."""

from django.urls import path

from outings.views import sites

urlpatterns = [
    path("", sites.site_list, name="site_list"),
    path("new/", sites.site_new, name="site_new"),
    path("<int:pk>/", sites.site, name="site"),
    path("<int:pk>/edit/", sites.site_edit, name="site_edit"),
    path("<int:pk>/copy/", sites.site_copy, name="site_copy"),
    path("<int:pk>/retire/", sites.site_retire, name="site_retire"),
    path("<int:pk>/delete/", sites.site_delete, name="site_delete"),
]
