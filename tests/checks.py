"""Check values from outside the project, by topic: what goes in, what must come out, how near, and who says so.

Each file in tests/data/checks/ is a list of cases. A case names its reference: a standard, a published worked example
or a program that shares no code with this one; "from memory" and "common practice, no source" stand where that is all.
"""

import json
import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "data" / "checks"


@dataclass(frozen=True)
class Case:
    """One check value; `tolerance` is one for the whole result or one for each of its names."""

    id: str
    what: str
    inputs: dict
    expected: object
    tolerance: dict
    unit: str
    reference: str
    note: str


@cache
def all_cases(topic):
    """Every case of a topic: grid, geodesy, sun, batteries, antennas, exposure, evidence, gear_arithmetic."""
    return tuple(Case(**row) for row in json.loads((FOLDER / f"{topic}.json").read_text(encoding="utf-8")))


def cases(topic, *beginnings):
    """Cases whose ids begin so, as parameters for pytest: `@pytest.mark.parametrize("case", cases("grid", "T1-E"))`."""
    found = [case for case in all_cases(topic) if case.id.startswith(beginnings)]
    if not found:
        raise LookupError(f"no check value of {topic} begins with {beginnings}")
    return [pytest.param(case, id=case.id) for case in found]


def allowed(expected, tolerance):
    """The largest difference: the larger of the absolute tolerance and the relative one times the expected value."""
    return max(tolerance.get("abs", 0.0), tolerance.get("rel", 0.0) * abs(expected))


def agree(found, expected, tolerance, where="result"):
    """Assert that a result is within tolerance of what is expected; names in `expected` are all looked at."""
    if isinstance(expected, dict):
        for name, value in expected.items():
            assert name in found, f"{where}: no {name}"
            agree(found[name], value, tolerance.get(name, tolerance), f"{where}.{name}")
    elif isinstance(expected, list):
        assert len(found) == len(expected), f"{where}: {len(found)} values, not {len(expected)}"
        for index, (one, value) in enumerate(zip(found, expected, strict=True)):
            agree(one, value, tolerance, f"{where}[{index}]")
    elif expected is None or isinstance(expected, (str, bool)):
        assert found == expected, f"{where}: {found!r}, not {expected!r}"
    else:
        assert found is not None, f"{where}: nothing, not {expected}"
        assert math.isfinite(found), f"{where}: {found}, not {expected}"
        difference = abs(found - expected)
        if "mod" in tolerance:
            difference = min(difference % tolerance["mod"], -difference % tolerance["mod"])
        if not tolerance.get("exact"):
            assert "abs" in tolerance or "rel" in tolerance, f"{where}: no tolerance given"
        assert difference <= allowed(expected, tolerance), f"{where}: {found}, not {expected} ({tolerance})"


def holds(case, found, *names):
    """Assert that a result agrees with a case, for these names of its expected values or for all of them."""
    expected = {name: case.expected[name] for name in names} if names else case.expected
    agree(found, expected, case.tolerance, case.id)
