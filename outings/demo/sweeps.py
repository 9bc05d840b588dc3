"""The invented sweeps of the demo scenario: files of resonator models with a little noise, from the seed; pure.

The impedance is that of series resonators side by side, 1/Z = sum 1/(R (1 + jQ (f/f0 - f0/f))); one arrangement was
never swept, and the coil of the whip on one band only, as in life.
"""

import cmath
import datetime
import math
import random
from dataclasses import dataclass

from equipment.physics import feedline, reflection

from . import gear, scenario

NEVER = "wire low"
NOISE = 0.003
BEFORE = datetime.timedelta(minutes=10)


@dataclass(frozen=True)
class Drawing:
    """How a sweep is drawn: `turn` says at which outing with the arrangement, `dips` are (MHz, ohm, Q)."""

    arrangement: str
    band: str
    turn: int
    manner: str
    low_mhz: float
    high_mhz: float
    points: int
    dips: tuple
    conditions: str
    line: str = ""  # through which; empty is at the feedpoint


DRAWINGS = (
    Drawing("whip tall", "20m", -1, "DB", 13.0, 15.5, 251, ((14.12, 38.0, 9.0),), "damp meadow, 14 °C"),
    Drawing("whip coil", "40m", -1, "RI", 6.8, 7.5, 141, ((7.06, 34.0, 55.0),), "dry heath, wind"),
    Drawing(
        "wire sloping", "", -1, "MA", 3.0, 30.0, 541,
        ((7.05, 52.0, 16.0), (14.32, 58.0, 18.0), (21.7, 70.0, 22.0), (29.0, 85.0, 26.0)), "dry, light wind", "thin",
    ),
    Drawing("dipole vee", "40m", 0, "RI", 6.5, 7.6, 221, ((7.02, 62.0, 12.0),), "rain on the wire", "thick"),
    Drawing("dipole vee", "40m", -1, "ohm", 6.5, 7.6, 221, ((7.11, 58.0, 12.0),), "dry, 9 °C"),
    Drawing("dipole vee", "20m", -1, "RI", 13.5, 15.0, 151, ((14.18, 61.0, 12.0),), "dry, 9 °C"),
    Drawing("dipole flat", "40m", -1, "swr", 6.5, 7.6, 111, ((6.86, 31.0, 13.0),), "wet grass"),
    Drawing("loop", "20m", -1, "RI", 13.9, 14.3, 201, ((14.07, 46.0, 320.0),), "on the tripod, nobody within 3 m"),
)


@dataclass(frozen=True)
class DemoSweep:
    arrangement: str
    band: str
    line: str
    at: datetime.datetime
    place: str
    conditions: str
    file_name: str
    content: bytes


def sweeps(outings, seed=scenario.SEED):
    """The sweeps of the scenario's outings, in the order that they were taken in."""
    dice = random.Random(f"{seed} sweeps")
    places = {place.key: place.name.removeprefix("Demo: ") for place in scenario.SITES}
    found = []
    for number, drawing in enumerate(DRAWINGS, 1):
        used = [outing for outing in outings if any(s.arrangement == drawing.arrangement for s in outing.stints)]
        outing = used[drawing.turn]
        ending = "csv" if drawing.manner in ("ohm", "swr") else "s1p"
        found.append(DemoSweep(
            drawing.arrangement, drawing.band, drawing.line, outing.window_start - BEFORE, places[outing.site],
            drawing.conditions, f"demo-{number}.{ending}", written(drawing.manner, list(drawn(drawing, dice))).encode(),
        ))
    return tuple(sorted(found, key=lambda sweep: sweep.at))


def drawn(drawing, dice):
    """The points of a drawing: (Hz, reflection against 50 ohm)."""
    line = next((fields for key, fields in gear.FEEDLINES if key == drawing.line), None)
    for step in range(drawing.points):
        mhz = drawing.low_mhz + (drawing.high_mhz - drawing.low_mhz) * step / (drawing.points - 1)
        siemens = sum(
            1 / complex(ohm, ohm * q * (mhz / resonance - resonance / mhz)) for resonance, ohm, q in drawing.dips
        )
        gamma = reflection.of_impedance(1 / siemens).gamma
        if line:
            kind = feedline.line_type(line["line_type"])
            gamma = feedline.gamma_at_radio(gamma, kind, mhz * 1e6, line["length_m"])
        gamma += complex(dice.gauss(0, NOISE), dice.gauss(0, NOISE))
        yield mhz * 1e6, gamma * min(1.0, 0.999 / abs(gamma))


def written(manner, points):
    """The text of a file: Touchstone in one of its number formats, or a CSV of ohms or of the SWR."""
    if manner == "ohm":
        ohms = [(hz, reflection.impedance_ohm(gamma)) for hz, gamma in points]
        rows = [f"{hz / 1e6:.3f};{ohm.real:.2f};{ohm.imag:.2f}".replace(".", ",") for hz, ohm in ohms]
        return "\n".join(["Frequency (MHz);R (ohm);X (ohm)", *rows, ""])
    if manner == "swr":
        rows = [f"{hz / 1e3:.0f},{reflection.of_gamma(gamma).swr:.2f}" for hz, gamma in points]
        return "\n".join(["Frequency (kHz),SWR", *rows, ""])
    lines = ["! Invented, part of the demo scenario.", f"# MHz S {manner} R 50"]
    for hz, gamma in points:
        size, angle_deg = abs(gamma), math.degrees(cmath.phase(gamma))
        first, second = {
            "RI": (gamma.real, gamma.imag), "MA": (size, angle_deg), "DB": (20 * math.log10(size), angle_deg)
        }[manner]
        lines.append(f"{hz / 1e6:.6f} {first:.6f} {second:.6f}")
    return "\n".join([*lines, ""])
