"""The addresses of files that come in and go out, under files/."""

from django.urls import path

from outings.views import files

urlpatterns = [
    path("", files.file_list, name="file_list"),
    path("<int:pk>/", files.file, name="file"),
    path("<int:pk>/progress/", files.file_progress, name="file_progress"),
    path("<int:pk>/findings/<slug:kind>/", files.file_findings, name="file_findings"),
    path("<int:pk>/import/", files.file_import, name="file_import"),
    path("<int:pk>/read-again/", files.file_read_again, name="file_read_again"),
    path("<int:pk>/undo/", files.file_undo, name="file_undo"),
    path("<int:pk>/forget/", files.file_discard, name="file_discard"),
    path("export/", files.export, name="export"),
    path("export/log.<str:ending>", files.export_file, name="export_file"),
]
