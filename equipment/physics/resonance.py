"""Where an antenna should resonate by its lengths alone: quarter- and half-waves, their multiples, the spread."""

import re
from dataclasses import dataclass

from . import lengths

WIRE_RADIUS_M = 0.001  # of a wire that was not measured. Common practice, no source.
INSULATION = (0.96, 1.0)  # bare wire to hook-up wire, by lengths.insulation_ratio
MULTIPLE_SPREAD = 0.02  # of the multiples above the first: the long-wire formula against NEC-2 and real ends


@dataclass(frozen=True)
class Modelled:
    """The resonance nearest to a band: `multiple` half-waves (or quarter-waves), between low_hz and high_hz."""

    multiple: int
    low_hz: float
    high_hz: float

    @property
    def frequency_hz(self):
        return (self.low_hz + self.high_hz) / 2

    def reaches(self, low_hz, high_hz):
        """Whether it may lie within a band."""
        return self.low_hz <= high_hz and self.high_hz >= low_hz


def quarter_wave(length_m, low_hz, high_hz, radius_m=WIRE_RADIUS_M, insulation=INSULATION):
    """A quarter-wave on radials, its odd multiples included; see `lengths.quarter_wave_range_m` for the spread."""
    def range_m(hz):
        return lengths.quarter_wave_range_m(hz, radius_m, insulation)

    return _nearest(length_m, low_hz, high_hz, range_m, 2, 0.5)


def half_wave(length_m, low_hz, high_hz, radius_m=WIRE_RADIUS_M, insulation=INSULATION, height_m=None):
    """A half-wave fed in the middle, its odd multiples included; see `lengths.half_wave_range_m` for the spread."""
    def range_m(hz):
        return lengths.half_wave_range_m(hz, radius_m, insulation, height_m)

    return _nearest(length_m, low_hz, high_hz, range_m, 2, 1)


def end_fed(length_m, low_hz, high_hz, insulation=INSULATION):
    """A half-wave fed at its end, every multiple included; see `lengths.end_fed_range_m` for the spread."""
    return _nearest(length_m, low_hz, high_hz, lambda hz: lengths.end_fed_range_m(hz, insulation), 1, 1)


def _nearest(length_m, low_hz, high_hz, range_m, step, halves):
    """The multiple that lies nearest to the middle of a band, as Modelled.

    range_m gives the resonant lengths of the first multiple at a frequency. A length that is that at f and measures L
    resonates at f times the one over the other; the n-th multiple lies (n - 0.05)/0.95 times higher (published
    long-wire formula 492 (n - 0.05)/f ft). halves: how many half-waves the first one has. ValueError for a length that
    is not positive or outside the tables.
    """
    if length_m <= 0 or not 0 < low_hz <= high_hz:
        raise ValueError("the length and the frequencies must be positive")
    middle = (low_hz + high_hz) / 2
    shortest, longest = range_m(middle)
    first = middle * (shortest + longest) / 2 / length_m
    wanted = (middle / first * 0.95 + 0.05) if halves == 1 else middle / first
    multiple = max(1, 1 + step * round((wanted - 1) / step))
    factor = (multiple - 0.05) / 0.95 if halves == 1 else float(multiple)
    spread = MULTIPLE_SPREAD if multiple > 1 else 0.0
    return Modelled(
        multiple, middle * shortest / length_m * factor * (1 - spread),
        middle * longest / length_m * factor * (1 + spread),
    )


def transformer_ratio(text):
    """The ratio that a text names (49:1, 1:49), as a number of at least 1; None where it names none."""
    found = re.search(r"([0-9]{1,3}(?:[.,][0-9])?)\s*:\s*([0-9]{1,3}(?:[.,][0-9])?)", text)
    if not found:
        return None
    one, other = (float(part.replace(",", ".")) for part in found.groups())
    return max(one, other) / min(one, other) if min(one, other) > 0 else None
