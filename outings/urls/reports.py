"""The addresses of an outing's report and of what is shown of it to others, under outings/ and shared/."""

from django.urls import path

from outings.views import reports

urlpatterns = [
    path("outings/<int:pk>/report/", reports.report, name="report"),
    path("outings/<int:pk>/report/paper/", reports.report_paper, name="report_paper"),
    path("outings/<int:pk>/report/share/", reports.report_share, name="report_share"),
    path("outings/<int:pk>/report/share/<int:share>/withdraw/", reports.share_withdraw, name="share_withdraw"),
    path("shared/<str:token>/", reports.shared, name="shared"),
]
