"""The addresses of an outing's report, under outings/."""

from django.urls import path

from outings.views import reports

urlpatterns = [
    path("<int:pk>/report/", reports.report, name="report"),
    path("<int:pk>/report/paper/", reports.report_paper, name="report_paper"),
]
