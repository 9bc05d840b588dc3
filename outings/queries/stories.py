"""The whole story of one piece of gear on the air: figures, verdicts, and the outings that it was on."""

from dataclasses import dataclass, replace

from equipment.models import Antenna, Arrangement, Pack, Radio, Sweep
from outings import geography
from outings.models import Outing, Stint

from . import comparison, contact_rates, performance, whereabouts
from .dimensions import NOTHING, band_place
from .judging import Asked, Judged, Line, Measure

LAST_OUTINGS = 20
LAST_SWEEPS = 5
BANDS = 5  # verdicts are asked for each of the bands that it was used on most


@dataclass(frozen=True)
class Kind:
    """What a story can be of: the model, what it is compared as (a key of WAYS), and a stint's column that names it."""

    model: type
    by: str
    column: str


KINDS = {
    "arrangement": Kind(Arrangement, "arrangement", "arrangement"),
    "antenna": Kind(Antenna, "antenna", "arrangement__antenna"),
    "radio": Kind(Radio, "radio", "radio"),
    "pack": Kind(Pack, "pack", "pack"),
}


@dataclass(frozen=True)
class Verdict:
    """How it stands against others of its kind by a measure, on all bands together (band "") or on one."""

    key: str  # of the measure
    measure: Measure
    band: str
    judged: Judged
    line: Line


@dataclass(frozen=True)
class Use:
    """One outing that it was on."""

    outing: Outing
    stints: int
    on_air_h: float
    bands: tuple[str, ...]


@dataclass(frozen=True)
class Story:
    """All of it. figures: raw, a group a band; verdicts: the first over all bands, where there is one."""

    kind: str
    by: str
    figures: performance.Performance
    verdicts: tuple[Verdict, ...]
    uses: tuple[Use, ...]
    outings: int
    sweeps: tuple


def story(operator, kind, thing, now=None):
    """The story of an arrangement, antenna, radio or pack of an operator."""
    form = KINDS[kind]
    every = Stint.objects.of(operator)
    mine = every.filter(**{form.column: thing})
    figures = performance.performance(operator, mine, "band", now)
    uses, outings = outings_of(mine)
    said = verdicts(Asked(operator, every, form.by, now=now), thing, figures)
    return Story(kind, form.by, figures, tuple(said), uses, outings, sweeps_of(kind, thing))


def for_others(story):
    """A Story as those see it who have its address, and are to know no site nearer than four characters of its grid."""
    centre = story.figures.centre
    if centre is None:
        return story
    grid = geography.grid_of(centre.latitude_deg, centre.longitude_deg, characters=4)
    return replace(story, figures=whereabouts.blurred(story.figures, grid))


def verdicts(asked, thing, figures):
    """What is said of it where it was compared with others: by rate on all bands and on each, and by distance."""
    used = sorted(figures.groups, key=lambda group: -group.on_air_h)[:BANDS]
    bands = sorted((group.key for group in used if group.key != NOTHING), key=band_place)
    answers = [("rate", band, contact_rates.judged_of(asked.seen.on_band(band) if band else asked.seen))
               for band in ("", *(bands if len(bands) > 1 else ()))]
    answers.insert(1, ("distance", "", comparison.MEASURES["distance"].judge(asked)))
    for key, band, judged in answers:
        line = next((one for one in judged.lines if one.key == str(thing.pk)), None)
        if line and judged.state not in ("empty", "alone"):
            yield Verdict(key, comparison.MEASURES[key].of(judged), band, judged, line)


def outings_of(stints):
    """The newest outings that the stints belong to, with how long it was on the air there; and how many in all."""
    used = {}
    rows = stints.order_by("started_at", "pk").values_list("outing_id", "on_air_s", "band")
    for outing, on_air_s, band in rows:
        use = used.setdefault(outing, [0, 0, {}])
        use[0] += 1
        use[1] += on_air_s or 0
        use[2][band] = True
    newest = list(used)[:-LAST_OUTINGS - 1:-1]
    outings = Outing.objects.select_related("site").in_bulk(newest)
    return tuple(
        Use(outings[pk], count, seconds / 3600, tuple(filter(None, bands)))
        for pk in newest for count, seconds, bands in [used[pk]]
    ), len(used)


def sweeps_of(kind, thing):
    """The newest sweeps of an arrangement or of all arrangements of an antenna, without their points."""
    if kind not in ("arrangement", "antenna"):
        return ()
    sweeps = Sweep.objects.filter(**{"arrangement" if kind == "arrangement" else "arrangement__antenna": thing})
    newest = sweeps.newest_first().select_related("arrangement__antenna").defer("original", "points")
    return tuple(newest[:LAST_SWEEPS])
