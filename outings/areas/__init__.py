"""Where the entities of the ADIF standard and their states and provinces lie: a middle and a radius (README.md); pure.

For contacts of which no grid square is known. What cannot be told with certainty has no area rather than a wrong one.
"""

import json
import re
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from outings import geography
from outings.adif import tables

SOURCE = "GeoNames (geonames.org), CC BY 4.0"


@dataclass(frozen=True)
class Area:
    """A circle that holds the towns of an entity or of a part of it."""

    name: str
    latitude_deg: float
    longitude_deg: float
    radius_km: float

    def way_from(self, here):
        """The way from a geography.Place to the middle, as a geography.Way.

        The error is the largest possible: the radius and the half-diagonal of the cell there. By the triangle
        inequality whoever is within the circle is no nearer and no farther than that says.
        """
        distance_km, bearing_deg, bearing_back_deg = geography.inverse(
            here.latitude_deg, here.longitude_deg, self.latitude_deg, self.longitude_deg
        )
        error_km = self.radius_km + geography.half_diagonal_km(here)
        return geography.Way(distance_km, error_km, bearing_deg, bearing_back_deg)


@cache
def _circles():
    return json.loads(Path(__file__).with_name("areas.json").read_text(encoding="utf-8"))


@lru_cache(maxsize=4096)
def area_of(dxcc, country="", state="", home=None):
    """The Area of a contact by the ADIF fields DXCC, COUNTRY and STATE; None where they do not say it for certain.

    Parameters: `dxcc`, an entity code or None; `country`, the standard's name of an entity in any letter case;
    `state`, a code of its Primary Administrative Subdivisions; `home`, the entity code of the own site or None: a state
    that came alone is looked up there.
    The whole entity where there is no state, or none that has a circle. None for no entity, a deleted or unknown one,
    two different ones, one without towns, and a state that its list lacks while that of another entity has it.
    """
    state, alone = state.strip().upper(), dxcc is None and not country.strip()
    entity = home if alone else entity_of(dxcc, country)
    if entity not in tables.current_entities() or (alone and state not in tables.subdivisions(entity)):
        return None
    listed = tables.subdivisions(entity)
    within = _circles()["subdivisions"].get(str(entity), {})
    if state in within:
        return Area(f"{listed[state]}, {spelt(entity)}", *within[state])
    if listed and state not in listed and state in _listed_codes():
        return None
    circle = _circles()["entities"].get(str(entity))
    return Area(spelt(entity), *circle) if circle else None


def entity_of(dxcc, country):
    """The code of the entity that a code and a name mean; None where they mean none or two."""
    named = _codes_by_name().get(plain(country))
    if dxcc is None:
        return named
    return dxcc if dxcc in tables.current_entities() and dxcc and named in (None, dxcc) else None


def plain(name):
    """A name of an entity without case and signs, so that `St. Lucia` and `ST LUCIA` are the same."""
    return re.sub(r"[^A-Z0-9]+", " ", name.upper().replace("&", " AND ")).strip()


@cache
def _codes_by_name():
    return {plain(name): code for code, name in tables.current_entities().items() if code}


@cache
def _listed_codes():
    return {code for entity in tables.current_entities() for code in tables.subdivisions(entity)}


@cache
def spelt(entity):
    """The standard's name of an entity in usual letters: United States of America."""
    words = re.sub(r"[A-Z]+('S\b)?", lambda word: word[0].capitalize(), tables.entities()[entity].replace(" )", ")"))
    return re.sub(r" (Of|The|And)\b", lambda word: word[0].lower(), words).strip()
