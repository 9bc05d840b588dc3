"""The user guide, served under Help: chapters as templates, so that every link in them is one that exists."""

from dataclasses import dataclass

from django.http import Http404
from django.shortcuts import render
from django.views.decorators.http import require_safe


@dataclass(frozen=True)
class Chapter:
    """One chapter: its address, title, and what it helps with."""

    slug: str
    title: str
    lead: str

    @property
    def template(self):
        return f"stationlog/guide/{self.slug}.html"


CHAPTERS = (
    Chapter("first-outing", "A first outing", "From an empty log to a plan, a checklist and contacts."),
    Chapter("phone", "The phone in the field", "Getting ready at home, logging without a network, handing in."),
    Chapter("phone-trouble", "When the phone makes trouble", "What the page says, what it means, and what to do."),
    Chapter("log", "Logs in and out", "Importing, mending and handing in ADIF files."),
    Chapter("packs", "Packs", "How full, how long, charging, and whether two may be joined."),
    Chapter("antennas", "Antennas on the bench", "Sweeps, whips and coils, wires, feedlines, people nearby."),
    Chapter("evidence", "Reading evidence", "What the intervals say, and how to find out more."),
    Chapter("keeping", "Keeping it safe", "Backups, other operators, and carrying everything elsewhere."),
)


@require_safe
def guide(request):
    """The list of chapters."""
    return render(request, "stationlog/guide/guide.html", {"chapters": CHAPTERS})


@require_safe
def guide_chapter(request, chapter):
    """One chapter, with the ones before and after."""
    place = next((number for number, one in enumerate(CHAPTERS) if one.slug == chapter), None)
    if place is None:
        raise Http404("There is no such chapter.")
    before = CHAPTERS[place - 1] if place else None
    after = CHAPTERS[place + 1] if place + 1 < len(CHAPTERS) else None
    context = {"chapter": CHAPTERS[place], "before": before, "after": after, "chapters": CHAPTERS}
    return render(request, CHAPTERS[place].template, context)
