"""The coasts of the world as lines, for maps on paper: Natural Earth 1:110m, public domain, as static/vendor has it."""

import functools
import json
from pathlib import Path

FILE = Path(__file__).resolve().parents[2] / "static" / "vendor" / "world-atlas-land-110m-2.0.2.json"


@functools.cache
def lines():
    """Lines of (latitude, longitude) in degrees.

    TopoJSON keeps each line as quantised differences: the running sum times scale plus translation.
    Source: TopoJSON format specification 1.0, "2.1.3 Arcs" and "2.1.2 Transforms".
    """
    world = json.loads(FILE.read_text(encoding="utf-8"))
    (scale_x, scale_y), (move_x, move_y) = world["transform"]["scale"], world["transform"]["translate"]
    found = []
    for arc in world["arcs"]:
        x = y = 0
        line = []
        for step_x, step_y in arc:
            x, y = x + step_x, y + step_y
            line.append((y * scale_y + move_y, x * scale_x + move_x))
        found.append(tuple(line))
    return tuple(found)
