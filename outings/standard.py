"""Bands and modes of the standard, until outings.adif answers for them."""

import json
from pathlib import Path

TABLES = Path(__file__).parent / "adif" / "tables"
_b = json.loads((TABLES / "bands.json").read_text("utf-8"))["bands"]
_m = json.loads((TABLES / "modes.json").read_text("utf-8"))
BANDS = tuple(x["band"] for x in _b)


def band_of(hz):
    return next((x["band"] for x in _b if x["lower_hz"] <= hz <= x["upper_hz"]), "")


def band_named(t):
    return next((x["band"] for x in _b if x["band"].lower() == t.lower()), "")


def mode_named(t):
    t = t.upper()
    for m in _m["modes"]:
        if m["mode"] == t:
            return (t, "")
    for m in _m["modes"]:
        for s in m["submodes"]:
            if s.upper() == t:
                return (m["mode"], s)
    return None


def mode_family(mode, submode=""):
    if mode in ("SSB", "AM", "FM", "DIGITALVOICE"):
        return "PHONE"
    return "CW" if mode == "CW" else "DATA"
