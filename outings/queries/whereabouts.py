"""Figures as others see them who are to know a site by its grid square alone.

Exact distances to stations whose squares are known would tell the site to a fraction of a kilometre.
"""

import math
from dataclasses import replace

from outings import geography

from .performance import DOTS

STEP_KM = 10


def blurred(found, grid):
    """A performance.Performance with distances to STEP_KM and its map drawn around the middle of a grid square.

    Contacts stay where they are, to STEP_KM and a degree as from that middle; cells of many lie around it as they did
    around the site.
    """
    square = geography.place_of_grid(grid)
    centre = replace(
        found.centre, label=grid, latitude_deg=square.latitude_deg, longitude_deg=square.longitude_deg
    )
    in_cells = sum(dot.contacts for dot in found.dots) > DOTS
    return replace(
        found, centre=centre, total=coarse(found.total), groups=tuple(map(coarse, found.groups)),
        sectors=tuple(
            replace(sector, median=to_step(sector.median), farthest_km=in_steps(sector.farthest_km))
            for sector in found.sectors
        ),
        dots=found.dots if in_cells else tuple(seen_from(dot, found.centre, square) for dot in found.dots),
    )


def in_steps(value_km):
    """A distance to STEP_KM; None of None."""
    return None if value_km is None else STEP_KM * round(value_km / STEP_KM)


def to_step(quantile):
    """A distances.Quantile to STEP_KM; None of None."""
    return quantile and replace(
        quantile, value=in_steps(quantile.value), low=in_steps(quantile.low), high=in_steps(quantile.high)
    )


def coarse(figures):
    """Figures with what a shared page shows of distances to STEP_KM."""
    farthest = figures.farthest and replace(
        figures.farthest, distance_km=in_steps(figures.farthest.distance_km),
        error_km=(figures.farthest.error_km or 0) + STEP_KM / 2,
    )
    return replace(
        figures, median=to_step(figures.median), upper_tenth=to_step(figures.upper_tenth), farthest=farthest
    )


def seen_from(dot, centre, square):
    """A dot of the map around a Centre as it lies from the middle of a square."""
    there = geography.destination_on_sphere(
        centre.latitude_deg, centre.longitude_deg, dot.bearing_deg, dot.distance_km
    )
    east_km, north_km = geography.azimuthal_equidistant_sphere(square.latitude_deg, square.longitude_deg, *there)
    return replace(
        dot, distance_km=in_steps(math.hypot(east_km, north_km)),
        bearing_deg=round(math.degrees(math.atan2(east_km, north_km))) % 360,
    )
