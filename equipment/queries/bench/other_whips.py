"""What the bench says about another whip on a coil: where each tap lands, which bands are lost, where no coil helps."""

from dataclasses import dataclass

from equipment import bands as band_table
from equipment.physics import taps, whip
from equipment.templatetags.bench import quantity, spread
from equipment.templatetags.units import frequency, significant, wire_length
from equipment.units import IMPERIAL, METRIC, length_from_m

from .answers import Answer, Figure, Ground, Picture, Table
from .whips import DOUBTS, SOURCES, WHIP_CAUTION

POINTS = 28  # of a curve in the picture
NOT_LONGER = 1.25  # the picture goes a quarter beyond the longer whip


@dataclass(frozen=True)
class FoundTap:
    """A tap that was found: its name, band, the whip it was found with, where it resonated, and what is known of it."""

    label: str
    band: str
    whip_m: float
    found_hz: float
    is_measured: bool  # the frequency was; else the middle of the band is taken
    inductance_h: float | None = None
    href: str = ""


@dataclass(frozen=True)
class Moved:
    """A tap with another whip; `landing` is None where the formulas do not reach."""

    tap: FoundTap
    landing: taps.Landing | None
    band: str | None
    inductance_h: float | None
    why_not: str = ""


def of_a_coil(coil, measured=None):
    """The taps of a coil; `measured` maps (band, whip length) to a frequency that a sweep found."""
    found = []
    for tap in coil.taps.all():
        swept = (measured or {}).get(tap.pk)
        at = swept or tap.frequency_hz or sum(band_table.edges(tap.band)) / 2
        inductance = tap.inductance_h or (tap.turns and coil.inductance_h(tap.turns)) or None
        label = f"{tap.band}, {tap}" if str(tap) != tap.band else tap.band
        found.append(FoundTap(
            label, tap.band, tap.whip_length_m, at, bool(swept or tap.frequency_hz), inductance,
            coil.get_absolute_url(),
        ))
    return tuple(found)


def typed_taps(bands, whip_m):
    """One tap for each band, found with a whip somewhere on the band."""
    return tuple(
        FoundTap(name, name, whip_m, sum(band_table.edges(name)) / 2, False)
        for name in sorted(bands, key=band_table.position)
    )


def other_whip_answers(*, found, wanted, whip_m, thickness_m, units=METRIC, winding=None, **rest):
    """Answers to: what if another whip goes on this coil? found: FoundTaps; wanted: names of bands."""
    radius = thickness_m / 2
    edges = {name: band_table.edges(name) for name in sorted(wanted, key=band_table.position)}
    taps.check_radius(radius)
    moved = tuple(landed(tap, whip_m, radius, edges) for tap in found)
    verdicts = {name: verdict(name, moved, whip_m, radius, winding, units) for name in edges}
    own = whip.no_coil_hz(whip_m, radius)
    served = [name for name, (works, _) in verdicts.items() if works]
    lost = [name for name, (works, _) in verdicts.items() if not works]
    return (Answer(
        title=f"With a whip of {wire_length(whip_m, units)}",
        sentence=sentence_of(moved, served, lost), mark="bad" if lost and not served else "warn" if lost else "good",
        word="bands lost" if lost else "all bands",
        figures=(Figure("Without a coil it resonates at", own, "frequency", own * 0.99, own * 1.01),),
        pictures=(tap_map(moved, edges, whip_m, radius, units),),
        tables=(table_of_taps(moved, units), table_of_bands(verdicts)),
        computed_from=tuple(grounds(found, thickness_m, units)),
        sources=(
            "A tap is an inductance that cancels the reactance of one whip: X(f) + 2πfL = 0 solved for the other whip. "
            "With the same formula for both its error cancels: within 0.2 % of NEC-2.", *SOURCES[:1], *SOURCES[2:3],
        ),
        doubts=(
            "1 % is stated for ground, radials and hands. Where a tap’s own frequency was not measured, the middle of "
            "its band is taken and half the band is added to the range.", *DOUBTS,
        ),
        cautions=(WHIP_CAUTION,),
    ),)


def landed(tap, whip_m, radius, edges):
    """A tap with another whip."""
    try:
        landing = taps.landing_of_found(tap.whip_m, tap.found_hz, whip_m, radius)
        inductance = whip.base_coil_h(tap.whip_m, radius, tap.found_hz)
    except ValueError as error:
        if tap.inductance_h is None:
            return Moved(tap, None, None, None, str(error))
        landing, inductance = taps.landing_of_coil(tap.inductance_h, whip_m, radius), tap.inductance_h
    if landing.low_hz < landing.high_hz and not tap.is_measured:
        landing = widened(landing, tap)
    return Moved(tap, landing, taps.band_of(landing, edges), inductance)


def widened(landing, tap):
    """The range of a landing, by half a band more: where on its band the tap was found is not known."""
    low, high = band_table.edges(tap.band)
    half = (high - low) / (high + low)
    return taps.Landing(landing.frequency_hz, landing.low_hz * (1 - half), landing.high_hz * (1 + half))


def verdict(name, moved, whip_m, radius, winding, units):
    """Whether a band works with this whip and the taps there are, and in words how."""
    low, high = band_table.edges(name)
    here = [one.tap.label for one in moved if one.band == name]
    need = taps.need(whip_m, radius, low, high)
    if need.verdict == "none":
        return True, "no coil needed"
    if need.verdict == "shorter":
        return False, f"no coil can help: shorten the whip to {wire_length(need.fitting_m, units)}"
    if here:
        return True, f"the tap found for {' or '.join(here)} lands here"
    coil = spread(need.low_h, need.high_h, "inductance")
    turns = winding and winding.turns_for(need.inductance_h)
    if turns:
        return False, f"no tap lands here; it needs {coil}, some {significant(turns, 2)} turns of this coil"
    return False, f"no tap lands here; it needs {coil}" + (", more than the whole coil" if winding else "")


def sentence_of(moved, served, lost):
    """What one wants to know first."""
    fixed = [one for one in moved if one.landing and one.landing.low_hz < one.landing.high_hz]
    on_band = sum(1 for one in fixed if one.band)
    said = []
    if fixed:
        said.append(f"{on_band} of {len(fixed)} taps found with another whip land on one of these bands")
    if served:
        said.append(f"it works on {', '.join(served)}")
    if lost:
        said.append(f"{', '.join(lost)} {'is' if len(lost) == 1 else 'are'} lost")
    text = "; ".join(said)
    return f"{text[:1].upper()}{text[1:]}."


def table_of_taps(moved, units):
    rows = []
    for one in moved:
        if one.landing is None:
            now, band = one.why_not, "–"
        else:
            landing = one.landing
            now = frequency(round(landing.frequency_hz, -4))
            if landing.low_hz < landing.high_hz:
                now = spread(landing.low_hz, landing.high_hz, "frequency")
            band = one.band or "between the bands"
        rows.append((
            one.tap.label, wire_length(one.tap.whip_m, units),
            frequency(round(one.tap.found_hz, -3)) + ("" if one.tap.is_measured else " (middle of the band)"),
            "–" if one.inductance_h is None else quantity(one.inductance_h, "inductance"), now, band,
        ))
    return Table(
        "Where each tap lands", ("Tap", "Found with", "Resonated at", "Inductance", "Resonates now at", "Band"),
        tuple(rows),
    )


def table_of_bands(verdicts):
    return Table("What that means for each band", ("Band", "With this whip"), tuple(
        (name, words) for name, (_, words) in verdicts.items()
    ))


def grounds(found, thickness_m, units):
    """The taps with links to their coil, and the whip."""
    by_coil = {tap.href: tap for tap in found}
    for href, tap in by_coil.items():
        text = f"Taps found with a whip of {wire_length(tap.whip_m, units)}" if not href else "Taps kept with the coil"
        yield Ground(text, href)
    yield Ground(f"Whip {quantity(thickness_m, 'thickness', units)} thick, on perfect ground")


def tap_map(moved, edges, whip_m, radius, units):
    """The picture: frequency over whip length for each tap, bands shaded, both whips marked."""
    known = [one for one in moved if one.inductance_h is not None]
    lengths = [one.tap.whip_m for one in known] + [whip_m]
    low, high = min(lengths) * 0.8, max(lengths) * NOT_LONGER
    steps = [low + (high - low) * n / (POINTS - 1) for n in range(POINTS)]
    unit = "ft" if units == IMPERIAL else "m"

    def shown(length_m):
        return round(length_from_m(length_m, units), 3)

    def curve(at):
        return [[shown(length), round(at(length) / 1e6, 4)] for length in steps]

    lines = [
        {"label": f"{one.tap.label} tap", "points": curve(
            lambda length, one=one: whip.resonance_with_coil_hz(length, radius, one.inductance_h)
        )}
        for one in known
    ]
    lines.append({
        "label": "no coil", "dashed": True, "points": curve(lambda length: whip.no_coil_hz(length, radius)),
    })
    before = sorted({one.tap.whip_m for one in known} - {whip_m})
    return Picture(
        "taps", f"Where each tap resonates over the length of the whip in {unit}, with the bands shaded; "
        "above the broken line no coil can help", {
            "unit": unit, "bands": [
                {"label": name, "low": low_hz / 1e6, "high": high_hz / 1e6} for name, (low_hz, high_hz) in edges.items()
            ],
            "lines": lines,
            "whips": [{"value": shown(length), "label": "found with"} for length in before]
            + [{"value": shown(whip_m), "label": "this whip"}],
            "landings": [
                {"label": one.tap.label, "length": shown(whip_m), "mhz": round(one.landing.frequency_hz / 1e6, 4),
                 "low": round(one.landing.low_hz / 1e6, 4), "high": round(one.landing.high_hz / 1e6, 4)}
                for one in moved if one.landing
            ],
        },
    )
