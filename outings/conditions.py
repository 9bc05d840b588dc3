"""The conditions of a contact or a stint: sun at both ends, light along the path, hour by the sun, season, indices.

Pure. "Grey line" and "season" have no single definition; what is meant here stands beside each name.
"""

import datetime
import itertools
import math
from dataclasses import dataclass

from . import geography, sun

STEP_KM = 250.0  # of the points looked at along a path
TROPIC_DEG = 23.44  # between the tropics there are no such seasons
SEASONS = ("winter", "spring", "summer", "autumn")
DAY, GREY_LINE, NIGHT, MIXED = "day", "grey line", "night", "day and night"
MOSTLY = 0.9  # share of a path that makes it one of day or of night


@dataclass(frozen=True)
class End:
    """The sun at one end: its height, the light that gives, and whether the place is near the day-night line."""

    elevation_deg: float
    light: str
    grey_line: bool


@dataclass(frozen=True)
class Conditions:
    """The conditions of one moment; `there`, `path`, `day_share` are None without the other station's position.

    path: "day" or "night" where nine tenths of the great circle lie in it, else "day and night"; day_share: the share
    of the path over which the sun is up. hour: by the sun of the site, 12 at noon. season: None in the tropics.
    """

    here: End
    there: End | None
    path: str | None
    day_share: float | None
    hour: float
    season: str | None

    @property
    def grey_line(self):
        """Which ends are near the day-night line: "both", "here", "there" or ""."""
        there = self.there is not None and self.there.grey_line
        return "both" if self.here.grey_line and there else "here" if self.here.grey_line else "there" if there else ""


def conditions(here, there, when):
    """The conditions of a contact between two `geography.Place`s (there may be None) at an aware datetime.

    Raises ValueError for a naive datetime. Light along the path is that on the ground every 250 km, ends included.
    """
    day = day_share(here, there, when) if there is not None else None
    path = None if day is None else DAY if day >= MOSTLY else NIGHT if day <= 1 - MOSTLY else MIXED
    return Conditions(
        end(here, when), None if there is None else end(there, when), path, day, sun_hour(here.longitude_deg, when),
        season(here.latitude_deg, when),
    )


def end(place, when):
    """The sun at a place."""
    height = sun.elevation_deg(place.latitude_deg, place.longitude_deg, when)
    return End(height, sun.light_class(height), sun.near_terminator(height))


def day_share(here, there, when):
    """The share of a great circle over which the sun is up; between two points of it the height is taken as even."""
    way = geography.way(here, there)
    if way.bearing_deg is None:
        return float(sun.elevation_deg(here.latitude_deg, here.longitude_deg, when) >= sun.SUNRISE_DEG)
    steps = max(2, math.ceil(way.distance_km / STEP_KM))
    points = [
        geography.direct(here.latitude_deg, here.longitude_deg, way.bearing_deg, way.distance_km * step / steps)
        for step in range(steps + 1)
    ]
    above = [sun.elevation_deg(*point, when) - sun.SUNRISE_DEG for point in points]
    return sum(_positive_share(a, b) for a, b in itertools.pairwise(above)) / steps


def _positive_share(first, second):
    """The share of a straight line between two values that is not below 0."""
    if (first >= 0) == (second >= 0):
        return float(first >= 0)
    return max(first, second) / abs(first - second)


def sun_hour(longitude_deg, when):
    """Hours by the mean sun of a longitude, 0 to 24: UTC and an hour for every 15 degrees. No equation of time."""
    seconds = when.astimezone(datetime.UTC).timestamp() + longitude_deg * 240
    return seconds % 86400 / 3600


def season(latitude_deg, when):
    """The season by months, as meteorologists count: December to February is winter in the north, summer in the south.

    None between the tropics. Source: World Meteorological Organization, three-month seasons (from memory).
    """
    if abs(latitude_deg) <= TROPIC_DEG:
        return None
    quarter = when.astimezone(datetime.UTC).month % 12 // 3
    return SEASONS[quarter if latitude_deg > 0 else (quarter + 2) % 4]


def light_of(latitude_deg, longitude_deg, when):
    """The light at a place in a word: "day", "night" or, with the sun within 6 degrees of the horizon, "grey line"."""
    height = sun.elevation_deg(latitude_deg, longitude_deg, when)
    return GREY_LINE if sun.near_terminator(height) else DAY if height > 0 else NIGHT


def solar_activity(solar_flux):
    """The solar flux typed in with an outing as a word: "low" below 100, "middle" below 150, "high"; None without one.

    Common practice, no source.
    """
    return None if solar_flux is None else "low" if solar_flux < 100 else "middle" if solar_flux < 150 else "high"


def geomagnetic(k_index):
    """The K index typed in with an outing as a word: "quiet" to 2, "unsettled" at 3, "active" at 4, "storm" from 5.

    Source: scale of the K index, J. Bartels et al., Terrestrial Magnetism 44 (1939) 411; the words are those of NOAA's
    Space Weather Prediction Center (from memory).
    """
    return None if k_index is None else (
        "quiet" if k_index < 3 else "unsettled" if k_index < 4 else "active" if k_index < 5 else "storm"
    )
