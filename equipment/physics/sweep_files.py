"""Files of sweeps: one-port Touchstone and CSV to a Sweep, with what was recognised; and a Sweep as Touchstone."""

import cmath
import math
import re
from dataclasses import dataclass
from itertools import pairwise

from equipment.numerals import Numeral

from . import reflection, text_files
from .sweep import Sweep

MOST_BYTES = 1024 * 1024
MOST_POINTS = 20_001
MOST_COLUMNS = 200
MOST_HZ = 1e13
UNIT_HZ = {"HZ": 1.0, "KHZ": 1e3, "MHZ": 1e6, "GHZ": 1e9}
UNIT_NAMES = {"HZ": "Hz", "KHZ": "kHz", "MHZ": "MHz", "GHZ": "GHz"}
NUMBER = re.compile(r"[+-]?([0-9]+(?:\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,4})?", re.ASCII)
COMMENTS = ("#", "!", "%", "//")


class BadSweep(ValueError):
    """A sweep file that cannot be used; the message names the line and the reason."""


@dataclass(frozen=True)
class FileRead:
    """A Sweep, and what was recognised in its file as pairs (what, value) to be shown before it is kept."""

    curve: Sweep
    is_csv: bool
    understood: tuple[tuple[str, str], ...]


def read(content, name="", *, unit=None, z0_ohm=None):
    """Read a sweep file from bytes, Touchstone or CSV by its name or else by its first lines.

    unit ("HZ" .. "GHZ") and z0_ohm overrule what a CSV says or leaves open; a Touchstone file says both itself.
    BadSweep, with the line, for anything that cannot be read.
    """
    ports = re.search(r"\.s([0-9]{1,3})p$", name, re.IGNORECASE)
    if ports and ports[1] != "1":
        raise BadSweep(f"the file is for {ports[1]} ports; save the one port of the antenna as .s1p")
    if ports or _looks_like_touchstone(_decoded(content)):
        return touchstone_file(content)
    return csv_file(content, unit=unit, z0_ohm=50.0 if z0_ohm is None else z0_ohm)


def _looks_like_touchstone(text):
    for line in text.splitlines()[:200]:
        line = line.strip().upper()
        if line and not line.startswith("!"):
            words = line.lstrip("# \t").split()
            return line.startswith("[") or (
                line.startswith("#") and bool(words) and words[0] in {*UNIT_HZ, "S", "Y", "Z", "RI", "MA", "DB", "R"}
            )
    return False


def _finished(points, z0_ohm, phase_known=True, remarks=()):
    """Order, check and freeze the points of a file: [(hz, gamma), ...]."""
    if len(points) < 2:
        raise BadSweep("fewer than two points were found")
    remarks = list(remarks)
    ordered = sorted(points, key=lambda point: point[0])
    if ordered != points:
        remarks.append("the points were not in order of frequency")
    for (a, _), (b, _) in pairwise(ordered):
        if a == b:
            raise BadSweep(f"a frequency occurs twice: {Numeral(a):.10g} Hz")
    if ordered[0][0] <= 0:
        raise BadSweep("a frequency is not positive")
    if not ordered[-1][0] <= MOST_HZ:
        raise BadSweep(f"a frequency of {Numeral(ordered[-1][0]):.3g} Hz is beyond every radio: is the unit right?")
    beyond = sum(abs(gamma) > 1 for _, gamma in ordered)
    if beyond:
        remarks.append(f"{beyond} of {len(ordered)} points reflect more than was sent: the calibration is off")
    return Sweep(tuple(f for f, _ in ordered), tuple(g for _, g in ordered), z0_ohm, phase_known, tuple(remarks))


def _number(text, line):
    text = text.strip()
    if not NUMBER.fullmatch(text):
        raise BadSweep(f"line {line}: “{text[:20]}” is not a number")
    value = float(text)
    if not math.isfinite(value):
        raise BadSweep(f"line {line}: “{text[:20]}” is not a finite number")
    return value


def _decoded(content):
    if len(content) > MOST_BYTES:
        raise BadSweep(f"a sweep file is at most {MOST_BYTES // 1024 // 1024} MB")
    try:
        return text_files.decoded(content)
    except text_files.NotText:
        raise BadSweep("this is not a text file") from None


def _positive(text, line):
    z0 = _number(text, line)
    if not 0 < z0 <= 1e6:
        raise BadSweep(f"line {line}: the reference impedance must be positive and at most 1 MΩ")
    return z0


def _option_line(text, line):
    """Unit, number format and reference impedance of `# <unit> S <RI|MA|DB> R <ohms>`, any order and case."""
    unit, form, z0 = "GHZ", "MA", 50.0
    words = iter(text[1:].upper().split())
    for word in words:
        if word in UNIT_HZ:
            unit = word
        elif word in ("RI", "MA", "DB"):
            form = word
        elif word == "R":
            z0 = _positive(next(words, ""), line)
        elif word in ("Y", "Z", "G", "H"):
            raise BadSweep(f"line {line}: the file holds {word} parameters; save it as S parameters")
        elif word != "S":
            raise BadSweep(f"line {line}: “{word[:20]}” is not known in an option line")
    return unit, form, z0


FORMS = {"RI": "real and imaginary part", "MA": "magnitude and angle", "DB": "decibel and angle"}


def read_touchstone(content):
    """Read a one-port Touchstone file from bytes to a Sweep; see `touchstone_file`."""
    return touchstone_file(content).curve


def touchstone_file(content):
    """Read a one-port Touchstone file (version 1, and version 2 with its keywords) from bytes to a FileRead.

    Comments begin with `!`; the option line may come in any order and case, defaults GHz, S, MA, 50 ohm; a second one
    is ignored; DB means 20 log. BadSweep, with the line, for anything that cannot be read.
    Source: Touchstone File Format Specification.
    """
    unit, form, z0 = "GHZ", "MA", 50.0
    option_seen = False
    numbers = []
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
            keyword, rest = keyword.strip().lower(), rest.strip()
            if keyword == "end":
                break
            if keyword == "number of ports" and rest != "1":
                raise BadSweep(f"line {line}: the file is for {rest[:10]} ports; one port is needed")
            if keyword == "reference":
                z0 = _positive(rest, line)
            continue
        words = text.split(None, 4)
        if len(words) != 3:
            raise BadSweep(f"line {line}: a one-port file has three numbers a line, this line has another count")
        numbers.append((line, *(_number(word, line) for word in words)))
        if len(numbers) > MOST_POINTS:
            raise BadSweep(f"more than {MOST_POINTS - 1} points")
    points = [
        (frequency * UNIT_HZ[unit], _reflection_of(form, first, second, line))
        for line, frequency, first, second in numbers
    ]
    understood = (
        ("File", "Touchstone, one port" if option_seen else "Touchstone, one port, without an option line"),
        ("Numbers", FORMS[form]), ("Frequencies in", UNIT_NAMES[unit]), ("Reference", f"{Numeral(z0):g} Ω"),
    )
    return FileRead(_finished(points, z0), False, understood)


def _reflection_of(form, first, second, line):
    """A reflection in one of the number formats of Touchstone; BadSweep where it is impossible."""
    if form == "RI":
        gamma = complex(first, second)
    else:
        if form == "DB" and first > 200:
            raise BadSweep(f"line {line}: {Numeral(first):g} dB is no reflection")
        gamma = cmath.rect(10 ** (first / 20) if form == "DB" else first, math.radians(second))
    if not cmath.isfinite(gamma) or abs(gamma) > 100:
        raise BadSweep(f"line {line}: a reflection of {Numeral(abs(gamma)):.3g} is impossible")
    return gamma


_CSV_MEANING = (
    ("frequency", re.compile(r"freq|^f$|^f[ _(\[]|^(k|m|g)?hz$", re.I)),
    ("swr", re.compile(r"v?swr", re.I)),
    ("loss_db", re.compile(r"return.?loss|^rl\b", re.I)),
    ("gamma_db", re.compile(r"s11.*db|db.*s11|mag.*db|log.?mag|^db$", re.I)),
    ("phase", re.compile(r"phase|ang|\barg|deg|θ", re.I)),
    ("gamma_re", re.compile(r"re\w*.*s11|s11.*\bre|gamma.*re|^re$|^real$", re.I)),
    ("gamma_im", re.compile(r"im\w*.*s11|s11.*\bim|gamma.*im|^im$|^imag(inary)?$", re.I)),
    ("resistance", re.compile(r"^rs?\b|resist|re.*z", re.I)),
    ("reactance", re.compile(r"^xs?\b|react|im.*z", re.I)),
)
# What is taken, best first: with its phase a reflection tells everything, without it only the SWR.
_KINDS = {
    ("resistance", "reactance"): "resistance and reactance",
    ("gamma_re", "gamma_im"): "reflection, real and imaginary part",
    ("gamma_db", "phase"): "reflection in dB and its phase",
    ("loss_db", "phase"): "return loss and phase",
    ("swr",): "SWR only, so resistance and reactance are not known",
    ("loss_db",): "return loss only, so resistance and reactance are not known",
    ("gamma_db",): "reflection in dB only, so resistance and reactance are not known",
}


def csv_columns(header):
    """What each column of a CSV header means: a mapping meaning -> index; the first column that fits wins."""
    found = {}
    for index, title in enumerate(header):
        for meaning, pattern in _CSV_MEANING:
            if meaning not in found and pattern.search(title.strip()[:60]):
                found[meaning] = index
                break
    return found


def read_csv(content, z0_ohm=50.0):
    """Read a CSV sweep from bytes to a Sweep; see `csv_file`."""
    return csv_file(content, z0_ohm=z0_ohm).curve


def csv_file(content, *, unit=None, z0_ohm=50.0):
    """Read a CSV sweep from bytes to a FileRead.

    Frequency with R and X, or reflection (re and im, or dB and phase), or SWR or return loss alone. The delimiter, one
    of text_files.SEPARATORS, a decimal comma and the frequency unit are recognised: the unit from the header, else by
    size (above 100,000 it is Hz, above 1,000 kHz, below 0.06 GHz, else MHz). Without a header two columns are frequency
    and SWR, three are frequency, R and X. BadSweep where it cannot be read.
    """
    if z0_ohm <= 0:
        raise BadSweep("the reference impedance must be positive")
    lines = [
        (number, line) for number, line in enumerate(_decoded(content).splitlines(), 1)
        if line.strip() and not line.lstrip().startswith(COMMENTS)
    ]
    if len(lines) < 2:
        raise BadSweep("fewer than two points were found")
    delimiter, comma = _manner(lines)
    header, rows = _table(lines, delimiter, comma)
    if header is None:
        width = len(rows[0][1])
        columns = {2: {"frequency": 0, "swr": 1}, 3: {"frequency": 0, "resistance": 1, "reactance": 2}}.get(width)
        if columns is None:
            raise BadSweep("no line names the columns; without one there must be frequency and SWR, or frequency, R, X")
    else:
        columns = csv_columns(header)
    if "frequency" not in columns:
        raise BadSweep("no column is named frequency")
    kind = next((kind for kind in _KINDS if all(name in columns for name in kind)), None)
    if kind is None:
        raise BadSweep("needed beside frequency: R and X, or reflection in two columns, or SWR, or return loss")
    points = []
    for number, row in rows:
        words = [row[columns[name]] if columns[name] < len(row) else None for name in ("frequency", *kind)]
        if None in words:
            raise BadSweep(f"line {number} has too few columns")
        frequency, *values = (_number(_pointed(word, comma), number) for word in words)
        points.append((frequency, _gamma_of(kind, values, z0_ohm, number)))
    unit, how = _unit_of(points, header[columns["frequency"]] if header else "", unit)
    understood = (
        ("File", "CSV" if header else "CSV without a line that names the columns"),
        ("Columns parted by", text_files.SEPARATORS[delimiter]), ("Decimals after a", "comma" if comma else "point"),
        ("Taken from it", _KINDS[kind]), ("Frequencies in", f"{UNIT_NAMES[unit]}{how}"),
        ("Reference", f"{Numeral(z0_ohm):g} Ω"),
    )
    remarks = []
    if kind == ("resistance", "reactance") and all(gamma.imag >= 0 for _, gamma in points):
        remarks.append(
            "the reactance is never negative: if your analyser leaves its sign out, this file cannot show a resonance"
        )
    points = [(frequency * UNIT_HZ[unit], gamma) for frequency, gamma in points]
    return FileRead(_finished(points, z0_ohm, len(kind) == 2, remarks), True, understood)


def _cells(line, delimiter):
    if delimiter == " ":
        line = line.replace(" (", "(").replace(" [", "[")  # a unit belongs to its column
    try:
        return text_files.cells(line, delimiter)
    except text_files.Unparted as error:
        raise BadSweep(f"the file is no readable CSV: {error}") from None


def _pointed(cell, comma):
    return cell.replace(",", ".") if comma else cell


def _numeric(cells, comma):
    return len(cells) > 1 and all(NUMBER.fullmatch(_pointed(cell, comma)) for cell in cells if cell)


def _manner(lines):
    """Delimiter and whether decimals follow a comma: the pair that turns most of the sampled lines into numbers."""
    sample = [line for _, line in lines[-1:-40:-1]]
    best, most = None, 0
    for delimiter in text_files.SEPARATORS:
        for comma in (False, True):
            count = sum(
                _numeric(cells, comma) and (not comma or not any("." in cell for cell in cells))
                for cells in (_cells(line[:2000], delimiter) for line in sample)
            )
            if count > most:
                best, most = (delimiter, comma), count
    if best is None:
        number, line = lines[-1]
        raise BadSweep(f"line {number}: no columns of numbers were found in “{line.strip()[:30]}”")
    return best


def _table(lines, delimiter, comma):
    """The line that names the columns (None where there is none) and the rows of numbers with their line numbers."""
    header, rows = None, []
    for number, line in lines:
        cells = _cells(line, delimiter)
        if len(cells) > MOST_COLUMNS:
            raise BadSweep(f"line {number}: more than {MOST_COLUMNS} columns")
        if not rows and not _numeric(cells, comma):
            if header is None or "frequency" not in csv_columns(header):
                header = cells
            continue
        rows.append((number, cells))
        if len(rows) > MOST_POINTS:
            raise BadSweep(f"more than {MOST_POINTS - 1} points")
    if len(rows) < 2:
        raise BadSweep("fewer than two points were found")
    return header, rows


def _unit_of(points, title, chosen):
    """The frequency unit and how it is known."""
    if chosen:
        return chosen, ", as you chose"
    named = next((name for name in ("GHZ", "MHZ", "KHZ", "HZ") if name in title.upper()), None)
    if named:
        return named, ", as the column says"
    largest = max(frequency for frequency, _ in points)
    unit = "HZ" if largest > 1e5 else "KHZ" if largest > 1e3 else "MHZ" if largest > 0.06 else "GHZ"
    return unit, ", judged by their size"


def _gamma_of(kind, values, z0_ohm, line):
    if kind == ("swr",):
        if values[0] < 1:
            raise BadSweep(f"line {line}: an SWR is never below 1")
        return complex(reflection.magnitude_of_swr(values[0]))
    if kind == ("resistance", "reactance"):
        ohm = complex(*values)
        if ohm == -z0_ohm:
            raise BadSweep(f"line {line}: this impedance reflects without limit")
        return _reflection_of("RI", *_parts((ohm - z0_ohm) / (ohm + z0_ohm)), line)
    if kind == ("gamma_re", "gamma_im"):
        return _reflection_of("RI", *values, line)
    db = -abs(values[0]) if kind[0] == "loss_db" else values[0]
    return _reflection_of("DB", db, values[1] if len(values) == 2 else 0.0, line)


def _parts(value):
    return value.real, value.imag


def write_touchstone(sweep, comment=""):
    """A Sweep as a one-port Touchstone text, RI in hertz, so that nothing is rounded away.

    ValueError where no phase was recorded: such a file would claim what was not measured.
    """
    if not sweep.phase_known:
        raise ValueError("only the SWR was recorded, and a Touchstone file needs the phase, too")
    lines = [f"! {line}" for line in comment.splitlines()]
    lines.append(f"# HZ S RI R {sweep.z0_ohm!r}")
    lines += [f"{f!r} {g.real!r} {g.imag!r}" for f, g in zip(sweep.frequency_hz, sweep.gamma, strict=True)]
    return "\n".join(lines) + "\n"
