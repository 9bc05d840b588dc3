"""The start page."""

from django.shortcuts import render


def start(request):
    return render(request, "stationlog/start.html")
