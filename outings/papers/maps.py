"""A great-circle map on paper: rings of distance, coasts, and dots at their distance and bearing from the centre.

What is known to an area only is hollow.
"""

import math
from dataclasses import dataclass

from reportlab.platypus import Flowable

from outings import geography

from . import coast, lettering, sheets

HALF_ROUND_KM = 20015.1  # half the circumference of the mean sphere
COMPASS = ("N", "E", "S", "W")


@dataclass(frozen=True)
class Map:
    """What a map shows: its centre, dots as (distance in km, bearing in degrees), rings as (km, label).

    `around` are the middles of areas, as dots are.
    """

    latitude_deg: float
    longitude_deg: float
    dots: tuple
    rings: tuple
    reach_km: float
    around: tuple = ()


class MapDrawing(Flowable):
    """The map as a square flowable."""

    def __init__(self, shown, side_pt):
        super().__init__()
        self.shown, self.side_pt = shown, side_pt

    def wrap(self, room_pt, height_pt):
        return self.side_pt, self.side_pt

    def at(self, distance_km, bearing_deg):
        """Points on the paper for a distance and bearing."""
        radius_pt = distance_km / self.shown.reach_km * (self.side_pt / 2 - 12)
        angle = math.radians(bearing_deg)
        return self.side_pt / 2 + radius_pt * math.sin(angle), self.side_pt / 2 + radius_pt * math.cos(angle)

    def draw(self):
        canvas, middle_pt = self.canv, self.side_pt / 2
        scale = (middle_pt - 12) / self.shown.reach_km
        canvas.setLineWidth(0.5)
        canvas.setStrokeGray(0.55)
        path = canvas.beginPath()
        for line in coast.lines():
            self._trace(path, line)
        canvas.drawPath(path, stroke=1, fill=0)
        canvas.setStrokeGray(0.4)
        for km, label in self.shown.rings:
            canvas.setDash(1, 2)
            canvas.circle(middle_pt, middle_pt, km * scale)
            canvas.setDash()
            x_pt, y_pt = self.at(km, 20)
            lettering.draw(canvas, x_pt, y_pt + 1, label, sheets.SOFT)
        canvas.setLineWidth(0.9)
        canvas.circle(middle_pt, middle_pt, middle_pt - 12)
        for number, word in enumerate(COMPASS):
            x_pt, y_pt = self.at(self.shown.reach_km * (1 + 7 / (middle_pt - 12)), number * 90)
            lettering.draw(canvas, x_pt - lettering.width_pt(word, sheets.SMALL) / 2, y_pt - 3, word, sheets.SMALL)
        canvas.setStrokeGray(0)
        for distance_km, bearing_deg in self.shown.around:
            x_pt, y_pt = self.at(distance_km, bearing_deg)
            canvas.circle(x_pt, y_pt, 2.4, stroke=1, fill=0)
        canvas.setFillGray(0)
        for distance_km, bearing_deg in self.shown.dots:
            x_pt, y_pt = self.at(distance_km, bearing_deg)
            canvas.circle(x_pt, y_pt, 1.5, stroke=0, fill=1)
        canvas.setLineWidth(1.1)
        canvas.lines([
            (middle_pt - 4, middle_pt, middle_pt + 4, middle_pt), (middle_pt, middle_pt - 4, middle_pt, middle_pt + 4),
        ])

    def _trace(self, path, line):
        """Draw a coast where it lies within reach; a step across the far side of the Earth is left out."""
        before = None
        for latitude_deg, longitude_deg in line:
            x_km, y_km = geography.azimuthal_equidistant_sphere(
                self.shown.latitude_deg, self.shown.longitude_deg, latitude_deg, longitude_deg
            )
            distance_km = math.hypot(x_km, y_km)
            within = distance_km <= self.shown.reach_km
            here = self.at(distance_km, math.degrees(math.atan2(x_km, y_km))) if within else None
            if here and before and math.dist(here, before) < self.side_pt / 4:
                path.lineTo(*here)
            elif here:
                path.moveTo(*here)
            before = here


def rings_for(farthest_km, km_per_unit, unit):
    """About four rings at round distances in the operator's units, and how far the map reaches in km."""
    reach_km = min(HALF_ROUND_KM, max(300.0, farthest_km * 1.08))
    most = reach_km / km_per_unit
    step = next(
        size * 10**power for power in range(5) for size in (1, 2, 5) if most / (size * 10**power) <= 5
    )
    return tuple(
        (number * step * km_per_unit, f"{number * step:,} {unit}".replace(",", "\u2009"))
        for number in range(1, int(most / step) + 1)
    ), reach_km
