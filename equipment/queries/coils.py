"""Which taps of a coil hold for which arrangement, and where the others land."""

from dataclasses import dataclass

from equipment import bands as band_table
from equipment.models import Coil, CoilTap
from equipment.physics import taps, whip

THICKNESS_M = 0.004  # of a whip that was not measured: halfway up a telescopic one. Common practice, no source.


@dataclass(frozen=True)
class TapState:
    """One tap with the whip of an arrangement; `holds` is None where that whip's length is not known."""

    tap: CoilTap
    whip_length_m: float | None
    holds: bool | None
    landing: taps.Landing | None  # with this whip, where the tap was found with another
    lands_on: str | None


@dataclass(frozen=True)
class TapLine:
    """A tap as its coil's page shows it: what its turns give, and what the whip needs that it was found with."""

    tap: CoilTap
    wound_h: float | None
    needed_h: float | None
    off_percent: float | None  # how far what its turns give is from what that whip needs by the model


def coil_of(arrangement):
    """The coil that an arrangement names, with its taps at hand; None where it names none of its antenna's."""
    if not arrangement.coil:
        return None
    return Coil.objects.filter(antenna=arrangement.antenna_id, name=arrangement.coil).prefetch_related("taps").first()


def tap_states(arrangement, coil=None):
    """The taps of an arrangement's coil, one for each band, that which holds before others: a list of TapState."""
    coil = coil or coil_of(arrangement)
    if coil is None:
        return []
    lengths = {row.band: row.element_length_m for row in arrangement.band_settings.all()}
    radius = (arrangement.element_thickness_m or THICKNESS_M) / 2
    by_band = {}
    for tap in coil.taps.all():
        length = lengths.get(tap.band) or arrangement.element_length_m
        found = state(tap, length, radius)
        if tap.band not in by_band or (found.holds and not by_band[tap.band].holds):
            by_band[tap.band] = found
    return sorted(by_band.values(), key=lambda found: band_table.position(found.tap.band))


def state(tap, whip_length_m, radius_m):
    """One tap with a whip."""
    holds = tap.holds_for(whip_length_m)
    if holds is not False:
        return TapState(tap, whip_length_m, holds, None, None)
    at = found_hz(tap)
    try:
        landing = taps.landing_of_found(tap.whip_length_m, at, whip_length_m, radius_m)
    except ValueError:  # outside the formulas: only that it does not hold can be said
        return TapState(tap, whip_length_m, holds, None, None)
    return TapState(tap, whip_length_m, holds, landing, band_table.band_at(landing.frequency_hz))


def found_hz(tap):
    """Where a tap resonated, or the middle of its band."""
    return tap.frequency_hz or sum(band_table.edges(tap.band)) / 2


def tap_lines(coil, radius_m=THICKNESS_M / 2):
    """The taps of a coil with their inductances, measured or wound, beside what their whips need."""
    lines = []
    for tap in coil.taps.all():
        wound = tap.inductance_h or (coil.inductance_h(tap.turns) if tap.turns else None)
        try:
            needed = whip.base_coil_h(tap.whip_length_m, radius_m, found_hz(tap))
        except ValueError:
            needed = None
        off = 100 * (wound / needed - 1) if wound and needed else None
        lines.append(TapLine(tap, wound, needed, off))
    return lines
