"""Sweeps: one-port Touchstone and CSV files to reflection over frequency, and what they show."""

import cmath
import csv
import io
import math
import re
from dataclasses import dataclass
from itertools import pairwise

from . import reflection

MOST_BYTES = 4 * 1024 * 1024
MOST_POINTS = 100_001
UNIT_HZ = {"HZ": 1.0, "KHZ": 1e3, "MHZ": 1e6, "GHZ": 1e9}


class BadSweep(ValueError):
    """A sweep file that cannot be used; the message names the line and the reason."""


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


def _finished(points, z0_ohm, phase_known=True, remarks=()):
    """Order, check and freeze the points of a file: [(hz, gamma), ...]."""
    if len(points) < 2:
        raise BadSweep("fewer than two points were found")
    remarks = list(remarks)
    ordered = sorted(points, key=lambda point: point[0])
    if ordered != points:
        remarks.append("the points were not in order of frequency")
    if any(a[0] == b[0] for a, b in pairwise(ordered)):
        raise BadSweep("a frequency occurs twice")
    if ordered[0][0] <= 0:
        raise BadSweep("a frequency is not positive")
    beyond = sum(abs(gamma) > 1 for _, gamma in ordered)
    if beyond:
        remarks.append(f"{beyond} points reflect more than was sent: the calibration is off")
    return Sweep(tuple(f for f, _ in ordered), tuple(g for _, g in ordered), z0_ohm, phase_known, tuple(remarks))


def _number(text, line):
    try:
        value = float(text)
    except ValueError:
        raise BadSweep(f"line {line}: “{text[:20]}” is not a number") from None
    if not math.isfinite(value):
        raise BadSweep(f"line {line}: “{text[:20]}” is not a finite number")
    return value


def _decoded(content):
    if len(content) > MOST_BYTES:
        raise BadSweep(f"a sweep file is at most {MOST_BYTES // 1024 // 1024} MB")
    if b"\0" in content:
        raise BadSweep("this is not a text file")
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    return content.decode("latin-1")


def _option_line(text, line):
    """Unit in hertz, number format and reference impedance of `# <unit> S <RI|MA|DB> R <ohms>`, any order and case."""
    unit, form, z0 = UNIT_HZ["GHZ"], "MA", 50.0
    words = iter(text[1:].upper().split())
    for word in words:
        if word in UNIT_HZ:
            unit = UNIT_HZ[word]
        elif word in ("RI", "MA", "DB"):
            form = word
        elif word == "R":
            z0 = _number(next(words, ""), line)
        elif word in ("Y", "Z", "G", "H"):
            raise BadSweep(f"line {line}: the file holds {word} parameters; save it as S parameters")
        elif word != "S":
            raise BadSweep(f"line {line}: “{word[:20]}” is not known in an option line")
    if z0 <= 0:
        raise BadSweep(f"line {line}: the reference impedance must be positive")
    return unit, form, z0


def read_touchstone(content):
    """Read a one-port Touchstone file (version 1, and version 2 with its keywords) from bytes to a Sweep.

    Comments begin with `!`; the option line may come in any order and case, defaults GHz, S, MA, 50 ohm; a second one
    is ignored; DB means 20 log. BadSweep, with the line, for anything that cannot be read.
    Source: Touchstone File Format Specification.
    """
    unit, form, z0 = UNIT_HZ["GHZ"], "MA", 50.0
    option_seen = False
    numbers, lines = [], []
    for line, raw in enumerate(_decoded(content).splitlines(), 1):
        text = raw.split("!", 1)[0].strip()
        if not text:
            continue
        if text.startswith("#"):
            if not option_seen:
                unit, form, z0 = _option_line(text, line)
                option_seen = True
            continue
        if text.startswith("["):
            keyword, _, rest = text[1:].partition("]")
            keyword = keyword.strip().lower()
            if keyword == "end":
                break
            if keyword == "number of ports" and rest.strip() != "1":
                raise BadSweep(f"line {line}: the file is for {rest.strip()[:10]} ports; one port is needed")
            if keyword == "reference":
                z0 = _number(rest.strip(), line)
                if z0 <= 0:
                    raise BadSweep(f"line {line}: the reference impedance must be positive")
            continue
        words = text.split()
        if len(words) != 3:
            raise BadSweep(f"line {line}: a one-port file has three numbers a line, this line has {len(words)}")
        numbers.append(tuple(_number(word, line) for word in words))
        lines.append(line)
        if len(numbers) > MOST_POINTS:
            raise BadSweep(f"more than {MOST_POINTS - 1} points")
    points = []
    for (frequency, first, second), line in zip(numbers, lines, strict=True):
        if form == "RI":
            gamma = complex(first, second)
        else:
            if form == "DB" and first > 200:
                raise BadSweep(f"line {line}: {first:g} dB is no reflection")
            size = 10 ** (first / 20) if form == "DB" else first
            gamma = cmath.rect(size, math.radians(second))
        if not cmath.isfinite(gamma) or abs(gamma) > 100:
            raise BadSweep(f"line {line}: a reflection of {abs(gamma):.3g} is impossible")
        points.append((frequency * unit, gamma))
    return _finished(points, z0)


_CSV_MEANING = (
    ("frequency", re.compile(r"freq|^f\b|^f[ _(\[]|^(k|m|g)?hz$", re.I)),
    ("swr", re.compile(r"v?swr", re.I)),
    ("loss_db", re.compile(r"return.?loss|^rl\b", re.I)),
    ("gamma_db", re.compile(r"s11.*db|db.*s11|mag.*db|log.?mag", re.I)),
    ("phase", re.compile(r"phase|ang|arg|deg|θ", re.I)),
    ("gamma_re", re.compile(r"re\w*.*s11|s11.*\bre|gamma.*re|^re$|^real$", re.I)),
    ("gamma_im", re.compile(r"im\w*.*s11|s11.*\bim|gamma.*im|^im$|^imag(inary)?$", re.I)),
    ("resistance", re.compile(r"^r\b|^rs\b|resist|re.*z", re.I)),
    ("reactance", re.compile(r"^x\b|^xs\b|react|im.*z", re.I)),
)


def csv_columns(header):
    """What each column of a CSV header means: a mapping meaning -> index; the first column that fits wins."""
    found = {}
    for index, title in enumerate(header):
        for meaning, pattern in _CSV_MEANING:
            if meaning not in found and pattern.search(title.strip()):
                found[meaning] = index
                break
    return found


def read_csv(content, z0_ohm=50.0):
    """Read a CSV sweep from bytes: frequency with R and X, or reflection (re and im, or dB and phase), or SWR only.

    Delimiter (comma, semicolon, tab), decimal comma and the frequency unit (from the header, else by size: above
    100,000 is Hz, above 1,000 kHz, else MHz) are recognised and told in the remarks. BadSweep where it cannot be read.
    """
    text = _decoded(content)
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith(("#", "!"))]
    if len(lines) < 3:
        raise BadSweep("fewer than two points were found")
    sample = lines[1]
    delimiter = "\t" if "\t" in sample else ";" if ";" in sample else ","
    decimal_comma = delimiter != "," and "," in sample and "." not in sample
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter))
    except csv.Error as error:
        raise BadSweep(f"the file is no readable CSV: {error}") from None
    if len(rows) - 1 > MOST_POINTS:
        raise BadSweep(f"more than {MOST_POINTS - 1} points")
    columns = csv_columns(rows[0])
    if "frequency" not in columns:
        raise BadSweep("no column named frequency was found in the first line")
    kinds = (
        ("resistance", "reactance"), ("gamma_re", "gamma_im"), ("gamma_db", "phase"), ("loss_db", "phase"), ("swr",),
    )
    kind = next((kind for kind in kinds if all(name in columns for name in kind)), None)
    if kind is None:
        raise BadSweep("needed beside frequency: R and X, or reflection in two columns, or SWR")
    title = rows[0][columns["frequency"]].upper()
    unit = next((UNIT_HZ[name] for name in ("GHZ", "MHZ", "KHZ", "HZ") if name in title), None)
    points = []
    for number, row in enumerate(rows[1:], 2):
        try:
            words = [row[columns[name]].strip() for name in ("frequency", *kind)]
        except IndexError:
            raise BadSweep(f"row {number} has too few columns") from None
        if decimal_comma:
            words = [word.replace(",", ".") for word in words]
        frequency, *values = (_number(word, number) for word in words)
        points.append((frequency, _gamma_of(kind, values, z0_ohm, number)))
    separator = {"\t": "tab", ";": "semicolon", ",": "comma"}[delimiter]
    remarks = [f"columns separated by {separator}, decimal {'comma' if decimal_comma else 'point'}"]
    if unit is None:
        largest = max(frequency for frequency, _ in points)
        unit, name = (1.0, "Hz") if largest > 1e5 else (1e3, "kHz") if largest > 1e3 else (1e6, "MHz")
        remarks.append(f"frequencies taken as {name}")
    return _finished([(f * unit, g) for f, g in points], z0_ohm, kind != ("swr",), remarks)


def _gamma_of(kind, values, z0_ohm, row):
    if kind == ("swr",):
        if values[0] < 1:
            raise BadSweep(f"row {row}: an SWR is never below 1")
        return complex(reflection.magnitude_of_swr(values[0]))
    first, second = values
    if kind == ("resistance", "reactance"):
        ohm = complex(first, second)
        if ohm == -z0_ohm:
            raise BadSweep(f"row {row}: this impedance reflects without limit")
        gamma = (ohm - z0_ohm) / (ohm + z0_ohm)
    elif kind == ("gamma_re", "gamma_im"):
        gamma = complex(first, second)
    else:
        db = -abs(first) if kind[0] == "loss_db" else first
        if db > 200:
            raise BadSweep(f"row {row}: {db:g} dB is no reflection")
        gamma = cmath.rect(10 ** (db / 20), math.radians(second))
    if not cmath.isfinite(gamma) or abs(gamma) > 100:
        raise BadSweep(f"row {row}: a reflection of {abs(gamma):.3g} is impossible")
    return gamma


def write_touchstone(sweep, comment=""):
    """A Sweep as a one-port Touchstone text, RI in hertz, so that nothing is rounded away."""
    lines = [f"! {line}" for line in comment.splitlines()]
    lines.append(f"# HZ S RI R {sweep.z0_ohm!r}")
    lines += [f"{f!r} {g.real!r} {g.imag!r}" for f, g in zip(sweep.frequency_hz, sweep.gamma, strict=True)]
    return "\n".join(lines) + "\n"


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
    for (f0, g0), (f1, g1) in pairwise(zip(sweep.frequency_hz, sweep.gamma, strict=True)):
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
        share = 0.0 if step == 0 else -(g0 * step.conjugate()).real / abs(step) ** 2
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


def width_of_series_resonance_hz(resonance_hz, q, swr_limit):
    """Bandwidth of a series-resonant antenna with R = Z0, Hz: (f0/Q)(S - 1)/sqrt(S)."""
    if resonance_hz <= 0 or q <= 0 or swr_limit < 1:
        raise ValueError("frequency and Q must be positive and the SWR at least 1")
    return resonance_hz / q * (swr_limit - 1) / math.sqrt(swr_limit)
