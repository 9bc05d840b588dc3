"""What sweeps show: at the feedpoint and at the radio, on each band, one by one or several compared."""

from dataclasses import dataclass

from equipment import bands
from equipment.models import Sweep
from equipment.numerals import Numeral
from equipment.physics import feedline, reflection
from equipment.physics import sweep as sweeps

RADIO_OHM = 50.0  # what radios want to see
MOST_COMPARED = 7  # as many as there are colours
PICTURE_POINTS = 600
MOST_DIPS = 24
MOST_FIGURES = 6
HIGHEST_SHOWN = 10.0  # SWR; above it a curve runs along the edge of the picture
HIGHEST_OHM = 1000.0
FEEDPOINT, RADIO = "feedpoint", "radio"
PLANES = {FEEDPOINT: "at the feedpoint", RADIO: "at the radio"}


@dataclass(frozen=True)
class BandLine:
    """What a sweep says about one band; swr_range is what the loss of the line leaves open, None where measured."""

    band: str
    found: sweeps.InBand
    swr_range: tuple[float, float | None] | None


@dataclass(frozen=True)
class View:
    """A sweep as it looks at one place, against z0_ohm; `how` says how that is known."""

    plane: str
    how: str
    is_computed: bool
    curve: sweeps.Sweep
    bands: tuple[BandLine, ...]
    dips: tuple[sweeps.Dip, ...]
    more_dips: int

    @property
    def title(self):
        return PLANES[self.plane]

    @property
    def caption(self):
        """The place, and how it is known there."""
        return f"{self.title[:1].upper()}{self.title[1:]}, {self.how}"

    @property
    def best_bands(self):
        """The bands that come to the top of the page: those that can be used, or all where none can."""
        return (self.usable_bands or self.bands)[:MOST_FIGURES]

    @property
    def usable_bands(self):
        """The bands with a stretch below the highest limit."""
        return tuple(line for line in self.bands if line.found.usable[-1].stretches)

    @property
    def other_bands(self):
        """The bands in which the SWR is nowhere below the highest limit."""
        return tuple(line for line in self.bands if not line.found.usable[-1].stretches)

    @property
    def step_hz(self):
        """The usual distance of the points."""
        frequencies = self.curve.frequency_hz
        return (frequencies[-1] - frequencies[0]) / (len(frequencies) - 1)


@dataclass(frozen=True)
class Shown:
    """A sweep with its views, the measured one first, and what the operator should know about it."""

    sweep: Sweep
    views: tuple[View, ...]
    remarks: tuple[str, ...]

    @property
    def measured(self):
        return self.views[0]

    def at(self, plane):
        """The view at a place; the measured one where it cannot be known there."""
        return next((view for view in self.views if view.plane == plane), self.measured)


def to_radio_impedance(curve):
    """The curve against 50 ohm where that can be known, else as it is."""
    try:
        return sweeps.against(curve, RADIO_OHM)
    except ValueError:
        return curve


def curves_of(sweep):
    """The curve at each place that it can be known at: ([(plane, how, computed, curve), ...] measured first, remarks).

    `sweep` needs its arrangement and feedlines at hand.
    """
    measured = to_radio_impedance(sweep.curve)
    remarks = []
    if measured.z0_ohm != sweep.z0_ohm:
        remarks.append(f"Recorded against {Numeral(sweep.z0_ohm):g} Ω; shown as a 50 Ω radio sees it.")
    elif measured.z0_ohm != RADIO_OHM:
        remarks.append(
            f"Recorded against {Numeral(sweep.z0_ohm):g} Ω without the phase: the SWR at a 50 Ω radio is another."
        )
    if not sweep.phase_known:
        remarks.append("Only the SWR was recorded: resistance, reactance and resonance are not known.")
    beyond = sum(abs(gamma) > 1 for gamma in measured.gamma)
    if beyond:
        remarks.append(
            f"{beyond} of {len(measured.gamma)} points reflect more than was sent: calibrate the analyser, sweep again."
        )
    at_radio = sweep.plane == Sweep.Plane.LINE
    found = [(RADIO if at_radio else FEEDPOINT, "as measured", False, measured)]
    line = sweep.feedline if at_radio else sweep.arrangement.feedline
    kind = line and feedline.line_type(line.line_type)
    if kind and line.length_m and measured.z0_ohm == RADIO_OHM:
        move = sweeps.at_feedpoint if at_radio else sweeps.at_radio
        how = f"computed through {line.name}, {kind.name}"
        try:
            found.append((FEEDPOINT if at_radio else RADIO, how, True, move(measured, kind, line.length_m)))
        except ValueError as error:
            remarks.append(f"Not moved to the {'feedpoint' if at_radio else 'radio'}: {error}.")
    elif at_radio:
        remarks.append(f"Not moved to the feedpoint: {why_not(line, kind, measured)}.")
    return found, remarks


def why_not(line, kind, curve):
    """Why a sweep through a line cannot be moved to the feedpoint."""
    if line is None:
        return "which feedline it was taken through is not noted"
    if kind is None:
        return f"the loss of “{line.line_type}” is not known" if line.line_type else f"{line.name} has no type noted"
    if not line.length_m:
        return f"{line.name} has no length noted"
    return "the file is against another impedance than that of the line, and without the phase"


def shown(sweep):
    """Everything that the page of a sweep shows."""
    found, remarks = curves_of(sweep)
    line = sweep.feedline if sweep.plane == Sweep.Plane.LINE else sweep.arrangement.feedline
    return Shown(sweep, tuple(view(*one, line) for one in found), tuple(remarks))


def view(plane, how, is_computed, curve, line):
    """A curve at one place with what it says about each band."""
    low, high = curve.frequency_hz[0], curve.frequency_hz[-1]
    lines = []
    for band in bands.BANDS:
        if band.lower_hz < high and band.upper_hz > low:
            found = sweeps.in_band(curve, band.lower_hz, band.upper_hz)
            lines.append(BandLine(band.name, found, swr_range(found.lowest, line, plane) if is_computed else None))
    dips = sweeps.dips(curve)
    deepest = sorted(dips, key=lambda dip: (dip.swr is None, dip.swr))[:MOST_DIPS]
    return View(
        plane, how, is_computed, curve, tuple(lines), tuple(dip for dip in dips if dip in deepest),
        len(dips) - len(deepest),
    )


def swr_range(dip, line, plane):
    """Lowest SWR that was moved along a line, if its loss were a fifth less or more: (low, high), None for infinite."""
    if dip.swr is None or line is None:
        return None
    kind = feedline.line_type(line.line_type)
    room_db = sweeps.LOSS_ROOM * feedline.matched_loss_db(kind, dip.frequency_hz, line.length_m)
    size = reflection.magnitude_of_swr(dip.swr)
    ends = [size * 10 ** (sign * room_db / 10) for sign in (-1, 1)]
    return tuple((1 + end) / (1 - end) if end < 1 else None for end in ends)


def shaded(low_hz, high_hz):
    """The bands to shade in a picture between two frequencies, in MHz."""
    return [
        {"label": band.name, "from": max(band.lower_hz, low_hz) / 1e6, "to": min(band.upper_hz, high_hz) / 1e6}
        for band in bands.BANDS if band.lower_hz < high_hz and band.upper_hz > low_hz
    ]


def span(views, band=None):
    """The frequencies that a picture goes over: of a band with some room, or of all views."""
    if band:
        room = (band.upper_hz - band.lower_hz) * 0.5
        return band.lower_hz - room, band.upper_hz + room
    return min(v.curve.frequency_hz[0] for v in views), max(v.curve.frequency_hz[-1] for v in views)


def pictures(rows, band=None):
    """The two pictures of static/pictures.js, SWR and impedance, of [(label, View), ...]; None where nothing is known.

    With a band (of equipment.bands) they show the band and half of it on either side.
    """
    low, high = span([view for _, view in rows], band)
    swr, ohms = [], []
    for number, (label, shown_view) in enumerate(rows, 1):
        part = sweeps.cut(shown_view.curve, low, high)
        if part is None:
            continue
        part = sweeps.thinned(part, PICTURE_POINTS)
        points = list(zip((f / 1e6 for f in part.frequency_hz), part.gamma, strict=True))
        swr.append({
            "label": label, "series": number,
            "points": [[round(mhz, 6), shown_swr(gamma)] for mhz, gamma in points if low <= mhz * 1e6 <= high],
        })
        if part.phase_known:
            ohms += impedance_rows(label, number, points, part.z0_ohm, low, high)
    shared = {"bands": shaded(low, high), "from": low / 1e6, "to": high / 1e6}
    return (
        {**shared, "what": "SWR", "rows": swr, "lines": list(sweeps.LIMITS), "lowest": 1, "highest": HIGHEST_SHOWN},
        {**shared, "what": "Ω", "rows": ohms, "lines": [0, RADIO_OHM]} if ohms else None,
    )


def shown_swr(gamma):
    """An SWR as a picture takes it: at most the highest that it shows."""
    size = abs(gamma)
    return round(min(HIGHEST_SHOWN, (1 + size) / (1 - size)), 4) if size < 1 else HIGHEST_SHOWN


def impedance_rows(label, number, points, z0_ohm, low, high):
    """Resistance and reactance as two rows of a picture; far beyond the scale they are left out."""
    pairs = [(mhz, reflection.impedance_ohm(gamma, z0_ohm)) for mhz, gamma in points if low <= mhz * 1e6 <= high]

    def row(name, part):
        values = [(mhz, None if ohm is None else part(ohm)) for mhz, ohm in pairs]
        return [[round(mhz, 6), None if v is None or abs(v) > HIGHEST_OHM else round(v, 2)] for mhz, v in values]

    return [
        {"label": f"R, {label}", "series": number, "points": row("R", lambda ohm: ohm.real)},
        {"label": f"X, {label}", "series": number, "dashed": True, "points": row("X", lambda ohm: ohm.imag)},
    ]


def with_gear(rows):
    """Sweeps with everything that `shown` reads of the gear."""
    return rows.select_related("arrangement__antenna", "arrangement__feedline", "feedline")


@dataclass(frozen=True)
class Choice:
    """A sweep to be chosen for comparing."""

    pk: int
    text: str
    arrangement: str
    is_chosen: bool


@dataclass(frozen=True)
class Comparison:
    """Sweeps laid over each other."""

    rows: tuple[tuple[str, Shown, View], ...]
    choices: tuple[Choice, ...]
    bands: tuple[str, ...]  # that any of them reaches
    left_out: int  # chosen, but more than can be told apart

    @property
    def pairs(self):
        """What the pictures are drawn from, with names that tell the sweeps apart where they are cut short."""
        return [(short(one.sweep), view) for _, one, view in self.rows]


def named(sweep):
    """What tells a sweep from the others: its arrangement, what it was set for, and its date."""
    set_for = f", set for {sweep.band}" if sweep.band else ""
    return f"{sweep.arrangement.antenna}: {sweep.arrangement}{set_for}, {sweep.taken_at:%Y-%m-%d}"


def short(sweep):
    """The name of a sweep with what tells it apart in front."""
    set_for = f", {sweep.band}" if sweep.band else ""
    return f"{sweep.taken_at:%Y-%m-%d} {sweep.arrangement}{set_for}, {sweep.arrangement.antenna}"


def compared(operator, pks, plane):
    """The chosen sweeps of an operator over each other at a place, and what else can be chosen. Two queries."""
    rows = with_gear(Sweep.objects.of(operator).defer("original", "points"))
    choices = list(rows.order_by("arrangement__antenna__name", "arrangement__name", "-taken_at", "-id"))
    wanted = [pk for pk in dict.fromkeys(pks) if pk in {choice.pk for choice in choices}]
    chosen = with_gear(Sweep.objects.of(operator)).in_bulk(wanted[:MOST_COMPARED])
    drawn = []
    for pk in wanted[:MOST_COMPARED]:
        found = shown(chosen[pk])
        drawn.append((named(chosen[pk]), found, found.at(plane)))
    reached = {line.band for _, _, view in drawn for line in view.bands}
    return Comparison(
        tuple(drawn),
        tuple(Choice(row.pk, named(row), str(row.arrangement), row.pk in wanted) for row in choices),
        tuple(sorted(reached, key=bands.position)), max(0, len(wanted) - MOST_COMPARED),
    )
