"""How far the models were off: where arrangements should resonate against where their newest sweeps say they do."""

import datetime
import math
from dataclasses import dataclass

from equipment import bands as band_table
from equipment.models import Arrangement
from equipment.physics import taps, whip

from . import resonance
from .coils import THICKNESS_M, tap_states

OWN, TAP, WIRE = "whip by itself", "coil by its turns", "wire by its length"
WHIP_ERROR = 0.01  # of a whip's own resonance against NEC-2
NEAR = 0.2  # of the band: a model further off than that is another multiple, not an error


@dataclass(frozen=True)
class Compared:
    """One band of an arrangement: where the model puts its resonance, with its range, and where it was measured."""

    arrangement: Arrangement
    band: str
    model: str
    model_hz: float
    low_hz: float
    high_hz: float
    measured_hz: float
    sweep_id: int
    taken_at: datetime.datetime

    @property
    def ratio(self):
        return self.measured_hz / self.model_hz

    @property
    def off_percent(self):
        return 100 * (self.ratio - 1)

    @property
    def is_inside(self):
        """Whether what was measured lies in the range that the model stated."""
        return self.low_hz <= self.measured_hz <= self.high_hz


@dataclass(frozen=True)
class Fit:
    """What several comparisons come to: measured over model, its geometric mean, its ends, and how many."""

    ratio: float
    low: float
    high: float
    n: int

    @property
    def off_percent(self):
        return 100 * (self.ratio - 1)


def fit(rows):
    """The Fit of some comparisons; None for none."""
    ratios = [row.ratio for row in rows]
    if not ratios:
        return None
    return Fit(math.exp(sum(map(math.log, ratios)) / len(ratios)), min(ratios), max(ratios), len(ratios))


def compared(arrangements):
    """Every band of arrangements that was swept and that a model reaches: a list of Compared. At most seven queries."""
    ids = [getattr(one, "pk", one) for one in arrangements]
    rows = list(
        Arrangement.objects.filter(pk__in=ids).select_related("antenna", "feedline").prefetch_related("band_settings")
    )
    sweeps = resonance.newest_sweeps(ids, band_table.NAMES)
    coils = resonance.coils_of(rows)
    found = []
    for row in rows:
        settings = {setting.band: setting for setting in row.band_settings.all()}
        for name in band_table.NAMES:
            sweep = sweeps.get((row.pk, name))
            if sweep is None:
                continue
            band = band_table.named(name)
            at = resonance.measured(row, band, sweep).resonance_hz
            model = at and model_of(row, band, settings.get(name), coils)
            if model and abs(math.log(at / model[1])) <= NEAR:
                found.append(Compared(row, name, *model, at, sweep.pk, sweep.taken_at))
    return found


def model_of(arrangement, band, setting, coils):
    """(model, Hz, lowest, highest) of where an arrangement should resonate on a band; None where no model says so."""
    length_m = setting.element_length_m if setting and setting.element_length_m else arrangement.element_length_m
    if not length_m:
        return None
    radius = (arrangement.element_thickness_m or THICKNESS_M) / 2
    try:
        if arrangement.coil:
            return by_turns(arrangement, band, length_m, radius, coils)
        if arrangement.orientation == Arrangement.Orientation.VERTICAL and not arrangement.transformer:
            own = whip.no_coil_hz(length_m, radius)
            return OWN, own, own * (1 - WHIP_ERROR), own * (1 + WHIP_ERROR)
        found = resonance.modelled(arrangement, band, setting, coils)
    except ValueError:  # outside the formulas
        return None
    return (WIRE, found.resonance_hz, *found.resonance_range_hz) if found.resonance_range_hz else None


def by_turns(arrangement, band, length_m, radius, coils):
    """Where a whip with its coil should resonate by the turns in use, or by the inductance that was measured."""
    coil = coils.get((arrangement.antenna_id, arrangement.coil))
    state = next((one for one in tap_states(arrangement, coil) if one.tap.band == band.name), None) if coil else None
    if state is None:
        return None
    inductance = state.tap.inductance_h or (coil.inductance_h(state.tap.turns) if state.tap.turns else None)
    if not inductance:
        return None
    landing = taps.landing_of_coil(inductance, length_m, radius)
    return TAP, landing.frequency_hz, landing.low_hz, landing.high_hz


def swept_taps(coil):
    """Where the taps of a coil resonated in the newest sweeps with the whip that they were found with: {tap id: Hz}.

    A tap holds for an arrangement whose whip is as long; at most eight queries.
    """
    arrangements = list(coil.arrangements().prefetch_related("band_settings"))
    found = resonance.resonances(arrangements, [tap.band for tap in coil.taps.all()])
    swept = {}
    for arrangement in arrangements:
        for state in tap_states(arrangement, coil):
            known = found.get((arrangement.pk, state.tap.band))
            if not (state.holds and known and known.resonance_hz and known.is_measured):
                continue
            middle = sum(band_table.edges(state.tap.band)) / 2
            if abs(math.log(known.resonance_hz / middle)) <= NEAR:
                swept[state.tap.pk] = known.resonance_hz
    return swept
