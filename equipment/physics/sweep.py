"""Sweeps: reflection over frequency, what it shows on each band, and the same moved along a line."""

import math
import struct
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise

from . import feedline, reflection

LIMITS = (1.5, 2.0, 3.0)  # SWR at which widths are given
LOSS_ROOM = 0.2  # makers' losses for one type of line differ by 10 to 20 %. Common practice.
NOISE = 0.02  # what analysers add to a total reflection. Common practice, no source.


@dataclass(frozen=True)
class Sweep:
    """Reflection over frequency.

    frequency_hz: rising, n >= 2; gamma: n complex coefficients against z0_ohm; phase_known False where only an SWR was
    recorded (then gamma is its magnitude, and nothing about reactance can be told); remarks: what was noticed.
    """

    frequency_hz: tuple[float, ...]
    gamma: tuple[complex, ...]
    z0_ohm: float = 50.0
    phase_known: bool = True
    remarks: tuple[str, ...] = ()


def packed(sweep):
    """The points as bytes: n frequencies, n real and n imaginary parts, each a little-endian double."""
    n = len(sweep.frequency_hz)
    real, imaginary = (g.real for g in sweep.gamma), (g.imag for g in sweep.gamma)
    return struct.pack(f"<{3 * n}d", *sweep.frequency_hz, *real, *imaginary)


def unpacked(points, z0_ohm=50.0, phase_known=True):
    """The Sweep that `packed` made bytes of; ValueError where they are none."""
    if not points or len(points) % 24:
        raise ValueError("these are no points of a sweep")
    numbers = struct.unpack(f"<{len(points) // 8}d", points)
    n = len(numbers) // 3
    return Sweep(numbers[:n], tuple(map(complex, numbers[n:2 * n], numbers[2 * n:])), z0_ohm, phase_known)


def cut(sweep, low_hz, high_hz):
    """The points between two frequencies with one more on either side; None where the sweep does not reach in."""
    frequencies = sweep.frequency_hz
    if frequencies[-1] <= low_hz or frequencies[0] >= high_hz:
        return None
    first = max(0, bisect_right(frequencies, low_hz) - 1)
    last = min(len(frequencies), bisect_left(frequencies, high_hz) + 1)
    return replace(sweep, frequency_hz=frequencies[first:last], gamma=sweep.gamma[first:last])


def thinned(sweep, most):
    """At most so many points (an even number) for a picture: of each stretch its first point and its lowest SWR."""
    n = len(sweep.frequency_hz)
    if n <= most:
        return sweep
    step = -(-n // (most // 2))
    kept = set()
    for start in range(0, n, step):
        kept |= {start, min(range(start, min(start + step, n)), key=lambda i: abs(sweep.gamma[i]))}
    kept = sorted({*kept, n - 1} if len(kept) < most else kept)
    return replace(
        sweep, frequency_hz=tuple(sweep.frequency_hz[i] for i in kept), gamma=tuple(sweep.gamma[i] for i in kept)
    )


def against(sweep, z0_ohm):
    """The same sweep against another reference impedance, by way of its impedance.

    ValueError where only an SWR was recorded, or where the load is open at some point.
    """
    if z0_ohm == sweep.z0_ohm:
        return sweep
    if not sweep.phase_known:
        raise ValueError("without the phase an SWR cannot be brought to another reference impedance")
    # Z = z (1 + g)/(1 - g) put into (Z - y)/(Z + y), the denominators cleared so that an open load is no exception
    z, y = sweep.z0_ohm, z0_ohm
    moved = []
    for g in sweep.gamma:
        below = z * (1 + g) + y * (1 - g)
        if below == 0:
            raise ValueError("at this reference impedance a point reflects without limit")
        moved.append((z * (1 + g) - y * (1 - g)) / below)
    return replace(sweep, gamma=tuple(moved), z0_ohm=z0_ohm)


def at_feedpoint(sweep, line, length_m):
    """A sweep that was taken through a line, moved to the feedpoint: gamma x 10^(A/10) x exp(+2 j beta l) each.

    Without phase only the size is moved. The line's own impedance is taken to be the reference. Makers' losses differ
    for the same type, so that a total reflection may come out above 1: within LOSS_ROOM of the loss (and the analyser's
    noise) it is taken as total. ValueError beyond that: type or length cannot be right.
    """
    def moved(gamma, hz):
        gamma = gamma / feedline.gamma_at_radio(1, line, hz, length_m)
        most = 10 ** (LOSS_ROOM * feedline.matched_loss_db(line, hz, length_m) / 10) + NOISE
        if abs(gamma) > most:
            raise ValueError("with this line more would come back than was sent: check type and length")
        return gamma if abs(gamma) <= 1 else gamma / abs(gamma)

    return _moved(sweep, moved)


def at_radio(sweep, line, length_m):
    """A sweep that was taken at the feedpoint, as it looks at the radio through a line."""
    return _moved(sweep, lambda gamma, hz: feedline.gamma_at_radio(gamma, line, hz, length_m))


def _moved(sweep, move):
    gamma = (move(g, f) for f, g in zip(sweep.frequency_hz, sweep.gamma, strict=True))
    return replace(sweep, gamma=tuple(g if sweep.phase_known else complex(abs(g)) for g in gamma))


def gamma_at(sweep, frequency_hz):
    """Reflection at a frequency, straight lines between the complex points; ValueError outside the sweep."""
    frequencies = sweep.frequency_hz
    if not frequencies[0] <= frequency_hz <= frequencies[-1]:
        raise ValueError("this frequency lies outside the sweep")
    low, high = 0, len(frequencies) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if frequencies[middle] <= frequency_hz:
            low = middle
        else:
            high = middle
    share = (frequency_hz - frequencies[low]) / (frequencies[high] - frequencies[low])
    return sweep.gamma[low] + (sweep.gamma[high] - sweep.gamma[low]) * share


@dataclass(frozen=True)
class Dip:
    """A place where little comes back: frequency, SWR (None where infinite), impedance (None without phase)."""

    frequency_hz: float
    swr: float | None
    ohm: complex | None


def _segments(sweep, low_hz, high_hz):
    part = cut(sweep, low_hz, high_hz)
    if part is None:
        return
    for (f0, g0), (f1, g1) in pairwise(zip(part.frequency_hz, part.gamma, strict=True)):
        start, end = max(f0, low_hz), min(f1, high_hz)
        if start < end:
            a = g0 + (g1 - g0) * ((start - f0) / (f1 - f0))
            b = g0 + (g1 - g0) * ((end - f0) / (f1 - f0))
            yield start, a, end, b


def _swr(gamma):
    size = abs(gamma)
    return (1 + size) / (1 - size) if size < 1 else None


def _dip(sweep, frequency, gamma):
    return Dip(frequency, _swr(gamma), reflection.impedance_ohm(gamma, sweep.z0_ohm) if sweep.phase_known else None)


def lowest(sweep, low_hz=0.0, high_hz=math.inf):
    """The Dip with the lowest SWR between two frequencies; None if the sweep does not reach there.

    The reflection is a straight line between points, so the closest approach to zero is exact on each piece.
    """
    best = None
    for f0, g0, f1, g1 in _segments(sweep, low_hz, high_hz):
        step = g1 - g0
        square = abs(step) ** 2
        share = 0.0 if square == 0 else -(g0 * step.conjugate()).real / square
        share = min(1.0, max(0.0, share))
        gamma = g0 + step * share
        if best is None or abs(gamma) < abs(best[1]):
            best = (f0 + (f1 - f0) * share, gamma)
    return _dip(sweep, *best) if best else None


def dips(sweep):
    """Every local minimum of the SWR among the points, as Dips in order of frequency; not only the deepest."""
    size = [abs(gamma) for gamma in sweep.gamma]
    found = []
    for index in range(1, len(size) - 1):
        if size[index] < size[index - 1] and size[index] <= size[index + 1]:
            around = sweep.frequency_hz[index - 1], sweep.frequency_hz[index + 1]
            found.append(lowest(sweep, *around))
    return tuple(found)


def resonances(sweep):
    """Where the reactance passes zero from capacitive to inductive as frequency rises, as Dips.

    The lowest SWR may lie elsewhere. Empty where no phase was recorded.
    """
    if not sweep.phase_known:
        return ()
    found = []
    for (f0, g0), (f1, g1) in pairwise(zip(sweep.frequency_hz, sweep.gamma, strict=True)):
        if g0.imag < 0 <= g1.imag:
            share = -g0.imag / (g1.imag - g0.imag)
            gamma = complex((g0 + (g1 - g0) * share).real, 0.0)
            if gamma != 1:  # an open circuit is no resonance
                found.append(_dip(sweep, f0 + (f1 - f0) * share, gamma))
    return tuple(found)


@dataclass(frozen=True)
class Width:
    """A stretch below an SWR limit; an edge outside the sweep is None, and then the width is only a lower bound."""

    low_hz: float | None
    high_hz: float | None
    at_least_hz: float

    @property
    def width_hz(self):
        return None if self.low_hz is None or self.high_hz is None else self.high_hz - self.low_hz


def widths(sweep, swr_limit, low_hz=0.0, high_hz=math.inf):
    """Stretches where the SWR is at or below a limit, as Widths in order of frequency.

    Edges are exact crossings of |gamma| with the limit on the straight lines between points. low_hz and high_hz cut the
    search (a band); an edge that lies outside them counts as outside the sweep.
    """
    limit = reflection.magnitude_of_swr(swr_limit)
    found, begun, inside_from, last = [], None, None, None
    for f0, g0, f1, g1 in _segments(sweep, low_hz, high_hz):
        if last is None and abs(g0) <= limit:
            begun = f0
        last = f1
        for share in _crossings(g0, g1, limit):
            frequency = f0 + (f1 - f0) * share
            after = abs(g0 + (g1 - g0) * min(1.0, share + 1e-9))
            if begun is None and after <= limit:
                begun = inside_from = frequency
            elif begun is not None and after > limit:
                found.append(Width(inside_from, frequency, frequency - begun))
                begun = None
    if begun is not None:
        found.append(Width(inside_from, None, last - begun))
    return tuple(found)


def _crossings(g0, g1, limit):
    """Shares 0 < t <= 1 of a straight piece at which |g0 + (g1 - g0) t| equals the limit, rising."""
    step = g1 - g0
    a, b, c = abs(step) ** 2, 2 * (g0 * step.conjugate()).real, abs(g0) ** 2 - limit**2
    if a == 0:
        return ()
    under_root = b * b - 4 * a * c
    if under_root <= 0:
        return ()
    root = math.sqrt(under_root)
    return tuple(t for t in ((-b - root) / (2 * a), (-b + root) / (2 * a)) if 0 < t <= 1)


@dataclass(frozen=True)
class Usable:
    """Where within a band the SWR is at or below a limit.

    stretches: (low, high) in Hz within the band; dip: the Width that the widest of them belongs to, which may reach
    beyond the band, None where there is none.
    """

    limit: float
    stretches: tuple[tuple[float, float], ...]
    dip: Width | None

    @property
    def width_hz(self):
        return sum(high - low for low, high in self.stretches)


@dataclass(frozen=True)
class InBand:
    """What a sweep says about one band, as far as it was swept (from_hz to to_hz)."""

    from_hz: float
    to_hz: float
    is_whole: bool
    lowest: Dip
    resonances: tuple[Dip, ...]
    usable: tuple[Usable, ...]


def in_band(sweep, low_hz, high_hz, limits=LIMITS):
    """What a sweep says about the band between two frequencies, as InBand; None where it does not reach in."""
    best = lowest(sweep, low_hz, high_hz)
    if best is None:
        return None
    start, end = max(low_hz, sweep.frequency_hz[0]), min(high_hz, sweep.frequency_hz[-1])
    return InBand(
        start, end, start == low_hz and end == high_hz, best,
        tuple(dip for dip in resonances(cut(sweep, low_hz, high_hz)) if low_hz <= dip.frequency_hz <= high_hz),
        tuple(_usable(sweep, limit, start, end) for limit in limits),
    )


def _usable(sweep, limit, start, end):
    stretches = []
    for width in widths(sweep, limit, start, end):
        low = start if width.low_hz is None else width.low_hz
        high = end if width.high_hz is None else width.high_hz
        stretches.append((low, high))
    if not stretches:
        return Usable(limit, (), None)
    low, high = max(stretches, key=lambda stretch: stretch[1] - stretch[0])
    middle = (low + high) / 2
    for reach in (0.05, 0.2, math.inf):  # most dips end soon beyond the band: no need to look through all of a sweep
        around = max(0.0, middle * (1 - reach)), middle * (1 + reach)
        dip = next((
            width for width in widths(sweep, limit, *around)
            if (width.low_hz or 0.0) <= middle <= (width.high_hz or math.inf)
        ), None)
        if dip and dip.width_hz is not None:
            break
    return Usable(limit, tuple(stretches), dip)


def width_of_series_resonance_hz(resonance_hz, q, swr_limit):
    """Bandwidth of a series-resonant antenna with R = Z0, Hz: (f0/Q)(S - 1)/sqrt(S)."""
    if resonance_hz <= 0 or q <= 0 or swr_limit < 1:
        raise ValueError("frequency and Q must be positive and the SWR at least 1")
    return resonance_hz / q * (swr_limit - 1) / math.sqrt(swr_limit)
