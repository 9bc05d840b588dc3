"""Where the sun stands and what light that gives: elevation, the crossings of one local date, light along a path.

Times are aware datetimes, angles degrees; north, east and up are positive. Heights over the horizon are those of the
centre of the sun's disc without refraction, as daylight questions want them.
"""

import datetime
import itertools
import math
import zoneinfo
from dataclasses import dataclass

import astral.sun

SUNRISE_DEG = -0.8333  # 34' of refraction and 16' of semi-diameter below the horizon, by convention
CIVIL_DEG = -6.0
NAUTICAL_DEG = -12.0
ASTRONOMICAL_DEG = -18.0
NEAR_TERMINATOR_DEG = 6.0  # "grey line" has no single definition: common practice, no source

DAY, CIVIL_TWILIGHT, NAUTICAL_TWILIGHT, ASTRONOMICAL_TWILIGHT, NIGHT = (
    "day", "civil twilight", "nautical twilight", "astronomical twilight", "night",
)
NORMAL, UP_ALL_DAY, DOWN_ALL_DAY = "normal", "up all day", "down all day"

J2000_S = 946_728_000.0  # 2000-01-01 12:00 UTC in seconds since 1970
CENTURY_S = 36525 * 86400.0
TERRESTRIAL_AHEAD_S = 69.0  # TT - UT in the 2020s; 30 s more or less move the sun by 0.0004 degrees
STEP = datetime.timedelta(minutes=10)


@dataclass(frozen=True)
class Position:
    """Where the sun stands: height over the horizon and direction from north."""

    elevation_deg: float
    azimuth_deg: float


@dataclass(frozen=True)
class Crossing:
    """The sun passes a height, on its way up or down; `at` is in UTC."""

    at: datetime.datetime
    rising: bool


@dataclass(frozen=True)
class Light:
    """The light of one local date at one place: from local midnight to the next, 23 to 25 hours later.

    `sun`, `civil`, `nautical` hold every crossing of sunrise and sunset height, -6 and -12 degrees in the order in
    which they happen: none, one, two or more. `state`, `civil_state`, `nautical_state` say whether the sun stays above
    that height ("up all day"), below it ("down all day") or neither ("normal").
    """

    starts_at: datetime.datetime
    ends_at: datetime.datetime
    sun: tuple[Crossing, ...]
    civil: tuple[Crossing, ...]
    nautical: tuple[Crossing, ...]
    state: str
    civil_state: str
    nautical_state: str
    lowest_deg: float
    highest_deg: float
    highest_at: datetime.datetime

    @property
    def sunrise(self):
        return first(self.sun, rising=True)

    @property
    def sunset(self):
        return last(self.sun, rising=False)

    @property
    def dawn(self):
        return first(self.civil, rising=True)

    @property
    def dusk(self):
        return last(self.civil, rising=False)


def first(crossings, *, rising):
    """When the first crossing in this direction happens, None if none does."""
    return next((crossing.at for crossing in crossings if crossing.rising is rising), None)


def last(crossings, *, rising):
    """When the last crossing in this direction happens, None if none does."""
    return next((crossing.at for crossing in reversed(crossings) if crossing.rising is rising), None)


def equatorial(seconds):
    """Apparent right ascension and declination of the sun, and the equation of the equinoxes, all in radians.

    Parameters: `seconds` since 1970-01-01 00:00 UTC.
    Validity: 0.005 degrees from 1950 to 2060, measured against PyEphem in the tests.
    Source: J. Meeus, Astronomical Algorithms (1998), chapter 25 (lower accuracy, with apparent place) and chapter 22,
    whose true longitude and obliquity are astral's; the five terms for Venus, Jupiter and the Moon from his
    Astronomical Formulae for Calculators (1985), chapter 18, from memory: they take the largest error from 0.010 to
    0.005 degrees.
    """
    t = (seconds + TERRESTRIAL_AHEAD_S - J2000_S) / CENTURY_S
    from_1900 = t + 1
    disturbed = (
        0.00134 * math.cos(math.radians(153.23 + 22518.7541 * from_1900))
        + 0.00154 * math.cos(math.radians(216.57 + 45037.5082 * from_1900))
        + 0.00200 * math.cos(math.radians(312.69 + 32964.3577 * from_1900))
        + 0.00179 * math.sin(math.radians(350.74 + 445267.1142 * from_1900))
        + 0.00178 * math.sin(math.radians(231.19 + 20.20 * from_1900))
    )
    node = math.radians(125.04 - 1934.136 * t)
    nutation_deg = -0.00478 * math.sin(node)
    longitude = math.radians(astral.sun.sun_true_long(t) + disturbed - 0.00569 + nutation_deg)
    obliquity = math.radians(astral.sun.obliquity_correction(t))
    right_ascension = math.atan2(math.cos(obliquity) * math.sin(longitude), math.cos(longitude))
    declination = math.asin(math.sin(obliquity) * math.sin(longitude))
    return right_ascension, declination, math.radians(nutation_deg) * math.cos(obliquity)


def position(latitude_deg, longitude_deg, when):
    """Find the sun's height over the horizon and its direction at a place and an instant.

    Parameters: latitude within ±90 and longitude in degrees; `when`, an aware datetime.
    Returns a Position; the height is of the disc's centre, without refraction, with parallax.
    Raises ValueError for a naive datetime or a latitude beyond ±90.
    Validity: 0.005 degrees from 1950 to 2060; the direction is ill-conditioned near the zenith.
    Source: Meeus (1998), chapters 12 (sidereal time), 13 (horizontal coordinates) and 40 (parallax 8.794").
    """
    if when.utcoffset() is None:
        raise ValueError("The time has no zone.")
    if not -90 <= latitude_deg <= 90:
        raise ValueError(f"A latitude lies between -90 and 90 degrees, not at {latitude_deg}.")
    return horizontal(latitude_deg, longitude_deg, when.timestamp())


def horizontal(latitude_deg, longitude_deg, seconds):
    """The sun's Position at seconds since 1970."""
    right_ascension, declination, equinoxes = equatorial(seconds)
    hour_angle = math.radians((greenwich_deg(seconds) + longitude_deg) % 360) + equinoxes - right_ascension
    latitude = math.radians(latitude_deg)
    level = math.cos(latitude) * math.cos(declination) * math.cos(hour_angle)
    sine = math.sin(latitude) * math.sin(declination) + level
    elevation = math.asin(max(-1.0, min(1.0, sine)))
    azimuth = math.atan2(
        -math.cos(declination) * math.sin(hour_angle),
        math.sin(declination) * math.cos(latitude)
        - math.cos(declination) * math.cos(hour_angle) * math.sin(latitude),
    )
    parallax_deg = 8.794 / 3600 * math.cos(elevation)
    return Position(math.degrees(elevation) - parallax_deg, math.degrees(azimuth) % 360)


def overhead(when):
    """The place that the sun stands over, (latitude, longitude) in degrees: the middle of the lit half of the Earth.

    The latitude is the declination, the longitude the right ascension less the sidereal time of Greenwich.
    Raises ValueError for a naive datetime. Validity and source: as `position`, without parallax.
    """
    if when.utcoffset() is None:
        raise ValueError("The time has no zone.")
    right_ascension, declination, equinoxes = equatorial(when.timestamp())
    longitude_deg = math.degrees(right_ascension - equinoxes) - greenwich_deg(when.timestamp())
    return math.degrees(declination), (longitude_deg + 180) % 360 - 180


def greenwich_deg(seconds):
    """Mean sidereal time of Greenwich in degrees, not reduced to a circle (Meeus 1998, 12.4)."""
    days = (seconds - J2000_S) / 86400
    t = days / 36525
    return 280.46061837 + 360.98564736629 * days + 0.000387933 * t * t


def elevation_deg(latitude_deg, longitude_deg, when):
    """The sun's height over the horizon; as `position`."""
    return position(latitude_deg, longitude_deg, when).elevation_deg


def traced(latitude_deg, longitude_deg, starts_at, ends_at):
    """The sun's path as (seconds, height) at most ten minutes apart, with its turning points between them added.

    The turning points matter: where the sun grazes a height it may pass it twice between two samples.
    """
    begin, end = starts_at.timestamp(), ends_at.timestamp()
    count = max(1, math.ceil((end - begin) / STEP.total_seconds()))

    def height(seconds):
        return horizontal(latitude_deg, longitude_deg, seconds).elevation_deg

    samples = [begin + (end - begin) * index / count for index in range(count + 1)]
    path = [(seconds, height(seconds)) for seconds in samples]
    turns = []
    for (left, low), (_, middle), (right, high) in zip(path, path[1:], path[2:], strict=False):
        if (middle >= low and middle > high) or (middle <= low and middle < high):
            seconds = turning(height, left, right, 1 if middle > high else -1)
            turns.append((seconds, height(seconds)))
    return sorted(path + turns)


def turning(height, left, right, sense):
    """The instant between two others at which the height is greatest (sense 1) or least (-1), by golden section."""
    ratio = (math.sqrt(5) - 1) / 2
    while right - left > 0.5:
        inner, outer = right - ratio * (right - left), left + ratio * (right - left)
        if sense * height(inner) > sense * height(outer):
            right = outer
        else:
            left = inner
    return (left + right) / 2


def crossings_on(path, latitude_deg, longitude_deg, threshold_deg):
    """Every passing of a height along a traced path, to a tenth of a second, by bisection."""
    found = []
    for (left, low), (right, high) in itertools.pairwise(path):
        if (low < threshold_deg) == (high < threshold_deg):
            continue
        rising = low < threshold_deg
        while right - left > 0.1:
            middle = (left + right) / 2
            below = horizontal(latitude_deg, longitude_deg, middle).elevation_deg < threshold_deg
            if below == rising:
                left = middle
            else:
                right = middle
        found.append(Crossing(datetime.datetime.fromtimestamp((left + right) / 2, datetime.UTC), rising))
    return tuple(found)


def crossings(latitude_deg, longitude_deg, starts_at, ends_at, threshold_deg=SUNRISE_DEG):
    """Every instant between two others at which the sun's centre passes a height.

    Parameters: place in degrees; two aware datetimes; `threshold_deg`, SUNRISE_DEG, CIVIL_DEG, NAUTICAL_DEG or another.
    Returns a tuple of Crossing in the order in which they happen; empty if the sun stays above or below.
    Raises ValueError where the end is not after the beginning.
    """
    if ends_at <= starts_at:
        raise ValueError("The end must be after the beginning.")
    position(latitude_deg, longitude_deg, starts_at)  # refuses what is no place or no time
    path = traced(latitude_deg, longitude_deg, starts_at, ends_at)
    return crossings_on(path, latitude_deg, longitude_deg, threshold_deg)


def next_crossing(latitude_deg, longitude_deg, after, threshold_deg=SUNRISE_DEG, *, rising=None, days=2):
    """The next time that the sun passes a height, in the wanted direction; None if it does not within some days."""
    until = after + datetime.timedelta(days=days)
    for crossing in crossings(latitude_deg, longitude_deg, after, until, threshold_deg):
        if rising is None or crossing.rising is rising:
            return crossing
    return None


def midnight(date, zone):
    """The instant at which a local date begins; where the clocks leave out midnight, the first instant there is."""
    return datetime.datetime(date.year, date.month, date.day, tzinfo=zoneinfo.ZoneInfo(zone)).astimezone(datetime.UTC)


def state_of(path, threshold_deg):
    """Whether the sun stays above a height, below it, or neither."""
    heights = [height for _, height in path]
    if min(heights) >= threshold_deg:
        return UP_ALL_DAY
    return DOWN_ALL_DAY if max(heights) < threshold_deg else NORMAL


def light(latitude_deg, longitude_deg, date, zone):
    """The light of one local civil date: all crossings from local midnight to the next.

    Parameters: place in degrees; `date`, the local date; `zone`, the name of the place's time zone.
    Returns a Light. The interval is 23 or 25 hours long where the clocks change, a sunset may lie on another UTC date,
    and at high latitude one date may hold the sunset of the evening before, two sunsets or none.
    Raises ValueError for a date that the place left out (Samoa had no 30 December 2011).
    Source: height at sunrise -50', 34' of refraction and 16' of semi-diameter (Meeus 1998, chapter 15).
    """
    starts_at, ends_at = midnight(date, zone), midnight(date + datetime.timedelta(days=1), zone)
    if ends_at <= starts_at:
        raise ValueError(f"There was no {date:%Y-%m-%d} in {zone}: the clocks went past it.")
    position(latitude_deg, longitude_deg, starts_at)
    path = traced(latitude_deg, longitude_deg, starts_at, ends_at)
    heights = (SUNRISE_DEG, CIVIL_DEG, NAUTICAL_DEG)
    highest_s, highest_deg = max(path, key=lambda point: point[1])
    return Light(
        starts_at, ends_at,
        *(crossings_on(path, latitude_deg, longitude_deg, threshold) for threshold in heights),
        *(state_of(path, threshold) for threshold in heights),
        lowest_deg=min(height for _, height in path),
        highest_deg=highest_deg,
        highest_at=datetime.datetime.fromtimestamp(highest_s, datetime.UTC),
    )


def light_class(height_deg):
    """Name the light that the sun gives at a height: day, civil, nautical or astronomical twilight, night."""
    for threshold_deg, name in (
        (SUNRISE_DEG, DAY), (CIVIL_DEG, CIVIL_TWILIGHT), (NAUTICAL_DEG, NAUTICAL_TWILIGHT),
        (ASTRONOMICAL_DEG, ASTRONOMICAL_TWILIGHT),
    ):
        if height_deg >= threshold_deg:
            return name
    return NIGHT


def near_terminator(height_deg):
    """Whether a place is near the line between day and night: the sun within 6 degrees of the horizon."""
    return abs(height_deg) <= NEAR_TERMINATOR_DEG
