"""A page with every piece of the look on it, and the addresses that lead there; for the browser tests only."""

from pathlib import Path

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.template import engines
from django.urls import include, path

SPECIMEN = Path(__file__).with_name("specimen.html")


class SpecimenForm(forms.Form):
    name = forms.CharField(label="Name", help_text="As you would tell a friend.")
    length_m = forms.FloatField(
        label="Element length (m)", required=False, widget=forms.TextInput({"inputmode": "decimal"})
    )
    band = forms.ChoiceField(label="Band", choices=[("20m", "20m"), ("40m", "40m")])
    calling = forms.ChoiceField(
        label="Calling or answering", choices=[("c", "calling"), ("a", "answering")], widget=forms.RadioSelect
    )
    bands = forms.MultipleChoiceField(
        label="Bands",
        choices=[(b, b) for b in ("80m", "40m", "20m")],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    tuner = forms.BooleanField(label="Tuner in line", required=False, help_text="Its loss counts.")
    picture = forms.FileField(label="Picture", required=False)
    notes = forms.CharField(label="Notes", widget=forms.Textarea, required=False)


def specimen(request):
    form = SpecimenForm(request.POST) if request.method == "POST" else SpecimenForm()
    messages.success(request, "Saved: the outing at Upper Quarry Ridge.")
    page = Paginator(range(100), 20).page(2)
    context = {"form": form, "page": page, "calls": ["Q1ABC", "Q0XYZ/P", "QA7K"]}
    return HttpResponse(engines["django"].from_string(SPECIMEN.read_text(encoding="utf-8")).render(context, request))


urlpatterns = [path("specimen/", specimen), path("", include("stationlog.urls"))]
