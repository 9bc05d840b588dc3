"""The addresses of fair tests: /outings/<pk>/fair-test/..."""

from django.urls import path

from outings.views import fair_tests

urlpatterns = [
    path("<int:pk>/fair-test/", fair_tests.fair_test, name="fair_test"),
    path("<int:pk>/fair-test/<int:plan_pk>/step/", fair_tests.fair_test_step, name="fair_test_step"),
    path("<int:pk>/fair-test/<int:plan_pk>/delete/", fair_tests.fair_test_delete, name="fair_test_delete"),
]
