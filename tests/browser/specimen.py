"""A page with every piece of the look on it, and the addresses that lead there; for the browser tests only."""

from pathlib import Path

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.template import engines
from django.urls import include, path

PICTURE_PAGE = Path(__file__).with_name("pictures.html")
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


def morning(clock):
    return f"2026-06-21T{clock}:00Z"


PICTURES = {
    "rates": {
        "unit": "contacts per hour",
        "none": "no on-air time",
        "rows": [
            {
                "label": "Long wire, 20 m over the branch",
                "value": 16.3,
                "low": 14.1,
                "high": 18.7,
                "n": 204,
            },
            {"label": "Whip, tap 3", "value": 9.8, "low": 4.2, "high": 19.3, "n": 7},
            {"label": "Loop", "value": None, "low": None, "high": None, "n": 0},
        ],
    },
    "effects": {
        "unit": "times the reference, Long wire",
        "neutral": 1,
        "logarithmic": True,
        "rows": [
            {"label": "Whip, tap 3", "value": 1.7, "low": 1.1, "high": 2.8, "raw": 0.8, "reference": False,
             "told": True, "claimed": True, "text": "× 1.7 (1.1 to 2.8), n 60"},
            {"label": "Loop", "value": 0, "low": 0, "high": 0.7, "raw": 0, "reference": False, "told": True,
             "claimed": True, "text": "× 0 (0 to 0.7), n 0"},
            {"label": "Long wire", "value": 1, "low": 1, "high": 1, "raw": 1, "reference": True, "told": True,
             "claimed": False, "text": "the reference, n 204"},
            {"label": "Dipole", "value": None, "low": 1.3, "high": None, "raw": 2.0, "reference": False, "told": True,
             "claimed": False, "text": "at least × 1.3, n 9"},
            {"label": "Vertical", "value": None, "low": None, "high": None, "raw": 0.5, "reference": False,
             "told": False, "claimed": False, "text": "cannot be told apart"},
        ],
    },
    "distances": {
        "unit": "km",
        "rows": [
            {
                "label": "Long wire, 20 m over the branch",
                "values": [i * i / 2 for i in range(10, 90)],
                "median": 1250,
                "low": 980,
                "high": 1490,
                "n": 80,
            },
            {"label": "Whip, tap 3", "values": [310, 8800, 640], "median": None, "low": None, "high": None, "n": 3},
        ],
    },
    "map": {
        "site": {"label": "Dune Edge", "latitude_deg": 54.1, "longitude_deg": 8.3},
        "unit": "km",
        "km_per_unit": 1,
        "contacts": [
            {"label": f"Q{i}A", "latitude_deg": 35 + 3 * (i % 9), "longitude_deg": -80 + 4 * i, "series": i % 2 + 1}
            for i in range(40)
        ],
        "around": [{"label": "Texas: 2 contacts", "latitude_deg": 31.0, "longitude_deg": -97.7, "distance_km": 8200}],
    },
    "light": {
        "time_zone": "Europe/Berlin",
        "window": ["2026-06-21T01:00:00Z", "2026-06-21T06:00:00Z"],
        "elevation_deg": [
            [f"2026-06-21T{h:02}:{m:02}:00Z", -24 + 6 * (h + m / 60)] for h in range(12) for m in (0, 30)
        ],
        "marks": [
            {"at": "2026-06-21T01:00:00Z", "label": "dawn"},
            {"at": "2026-06-21T01:20:00Z", "label": "UTC day"},
            {"at": "2026-06-21T04:00:00Z", "label": "sunrise"},
        ],
    },
    "voltage": {
        "rows": [{"at": f"2026-06-2{i}T04:05:00Z", "voltage_v": 13.4 - i / 5, "doing": "resting"} for i in range(8)],
        "lines": [{"voltage_v": 10.0, "label": "lowest voltage"}],
    },
    "sweeps": {
        "what": "SWR", "from": 3.0, "to": 30.0, "lowest": 1, "highest": 10, "lines": [1.5, 2, 3],
        "bands": [
            {"label": "40m", "from": 7.0, "to": 7.3}, {"label": "30m", "from": 10.1, "to": 10.15},
            {"label": "10m", "from": 28.0, "to": 29.7},
        ],
        "rows": [
            {"label": f"2026-05-0{n} a long name of an arrangement, set for 40m", "series": n, "dashed": n == 3,
             "points": [[mhz, None if mhz == 12 else min(10, 1 + abs(mhz - 7 * n) / n)] for mhz in range(3, 31)]}
            for n in range(1, 8)
        ],
    },
    "timeline": {
        "x": "UTC", "utc": True, "clock": True, "domain": [morning("03:30"), morning("07:30")],
        "stints": [
            {"label": "20m CW", "more": "Long wire", "contacts": 12,
             "stretches": [[morning("04:00"), morning("04:40")], [morning("05:00"), morning("05:30")]]},
            {"label": "40m SSB", "more": "Whip, tap 3", "contacts": 0,
             "stretches": [[morning("05:10"), morning("06:50")]]},
        ],
        "contacts": [morning(f"04:{minute:02}") for minute in range(3, 39, 3)],
        "panels": [
            {"unit": "", "from_zero": True, "rules": [{"y": 20, "label": "goal"}],
             "lines": [{"label": "contacts", "points": [[morning(f"04:{3 * n + 3:02}"), n + 1] for n in range(12)]}]},
            {"unit": "V", "rules": [],
             "lines": [{"label": "Pack one", "points": [[morning("04:00"), 13.3], [morning("06:50"), 12.9]]}]},
        ],
    },
    "rose": {
        "rows": [
            {"label": label, "short": short, "value": value} for label, short, value in (
                ("north", "N", 2), ("north-east", "NE", 7), ("east", "E", 11), ("south-east", "SE", 18),
                ("south", "S", 0), ("south-west", "SW", 19), ("west", "W", 3), ("north-west", "NW", 10),
            )
        ],
    },
}


def pictures(request):
    page = engines["django"].from_string(PICTURE_PAGE.read_text(encoding="utf-8"))
    return HttpResponse(page.render({"pictures": PICTURES}, request))


urlpatterns = [
    path("specimen/", specimen),
    path("specimen/pictures/", pictures),
    path("", include("stationlog.urls")),
]
