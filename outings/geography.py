"""Where things are: Maidenhead grid squares, distance and bearing on WGS84, typed coordinates, time zones.

Latitudes are degrees north, longitudes degrees east, bearings degrees clockwise from north, distances kilometres.
"""

import math
import re
import zoneinfo
from dataclasses import dataclass
from functools import lru_cache

import maidenhead
import tzfpy
from geographiclib.geodesic import Geodesic

from equipment.numerals import Numeral, localised

# WGS84: National Imagery and Mapping Agency, Technical Report 8350.2 (2000).
SEMI_MAJOR_M = 6378137.0
FLATTENING = 1 / 298.257223563
SEMI_MINOR_M = SEMI_MAJOR_M * (1 - FLATTENING)
ECCENTRICITY_SQUARED = FLATTENING * (2 - FLATTENING)
MEAN_RADIUS_KM = 6371.0088  # mean radius of the International Union of Geodesy and Geophysics (Moritz 1980)

GRID_PAIRS = ("ABCDEFGHIJKLMNOPQR", "0123456789", "ABCDEFGHIJKLMNOPQRSTUVWX", "0123456789", "ABCDEFGHIJKLMNOPQRSTUVWX")
GRID_PATTERN = re.compile(
    r"[A-R]{2}(?:[0-9]{2}(?:[A-X]{2}(?:[0-9]{2}(?:[A-X]{2})?)?)?)?", re.IGNORECASE | re.ASCII
)
GRID_LENGTHS = (2, 4, 6, 8, 10)
GRID_HEIGHTS_DEG = {2: 10.0, 4: 1.0, 6: 1 / 24, 8: 1 / 240, 10: 1 / 5760}  # a cell is twice as wide as high, in degrees

JUST_BELOW_DEG = 1e-10  # the last row and column are closed at the pole and at the antimeridian


@dataclass(frozen=True)
class Place:
    """A position and the size of the cell that it is the centre of; a size of 0 is a point."""

    latitude_deg: float
    longitude_deg: float
    height_deg: float = 0.0
    width_deg: float = 0.0

    def __post_init__(self):
        check_latitude(self.latitude_deg)
        if not math.isfinite(self.longitude_deg):
            raise ValueError("A longitude must be a number.")

    @property
    def south_deg(self):
        return self.latitude_deg - self.height_deg / 2

    @property
    def north_deg(self):
        return self.latitude_deg + self.height_deg / 2

    @property
    def west_deg(self):
        return self.longitude_deg - self.width_deg / 2

    @property
    def east_deg(self):
        return self.longitude_deg + self.width_deg / 2


@dataclass(frozen=True)
class Way:
    """The shortest way between two places.

    `error_km` is the standard deviation of the distance that the size of the cells gives; where the cells are not
    small against the distance it is the largest error possible. The bearings are None between equal points.
    """

    distance_km: float
    error_km: float
    bearing_deg: float | None
    bearing_back_deg: float | None


def check_latitude(latitude_deg):
    """Refuse a latitude beyond the poles or one that is no number: geographiclib would return NaN without a word."""
    if not -90 <= latitude_deg <= 90:
        raise ValueError(f"A latitude lies between -90 and 90 degrees, not at {latitude_deg}.")


def whole_circle(angle_deg):
    """The same direction within 0 <= angle < 360; a plain remainder gives 360.0 for a hair below zero."""
    angle_deg %= 360
    return 0.0 if angle_deg >= 360 else angle_deg


def wrapped_longitude(longitude_deg):
    """The same meridian within -180 <= longitude < 180."""
    if not math.isfinite(longitude_deg):
        raise ValueError("A longitude must be a number.")
    wrapped = math.fmod(longitude_deg, 360.0)
    if wrapped >= 180:
        return wrapped - 360
    return wrapped + 360 if wrapped < -180 else wrapped


# --- grid squares ---------------------------------------------------------------------------------------------------


def canonical_grid(text):
    """Write a locator the usual way: FN31pr.

    Parameters: `text`, 2 to 10 characters in any letter case; white space around it is dropped.
    Returns: field in capitals, digits, subsquares in small letters.
    Raises ValueError that names the first bad character and its place.
    Source: IARU Region 1 VHF Managers Handbook, locator; letters in the fifth pair are common practice, no source.
    """
    trimmed = text.strip()
    if not GRID_PATTERN.fullmatch(trimmed):
        raise ValueError(grid_fault(trimmed))
    return trimmed[:2].upper() + trimmed[2:].lower()


def grid_fault(trimmed):
    """Say what is wrong with a locator that the pattern refused."""
    if not trimmed:
        return "A grid square is missing."
    for index, character in enumerate(trimmed[:10]):
        allowed = GRID_PAIRS[index // 2]
        if not character.isascii() or character.upper() not in allowed:
            return (
                f"Character {index + 1} of the grid square, {character!r}, must be {allowed[0]} to {allowed[-1]}"
                f"{' (a digit)' if allowed[0] == '0' else ''}."
            )
    if len(trimmed) > 10:
        return f"A grid square has at most 10 characters; character 11 is {trimmed[10]!r}."
    return f"A grid square has 2, 4, 6, 8 or 10 characters, not {len(trimmed)}."


def grid_of(latitude_deg, longitude_deg, characters=6):
    """Find the grid square of a position: cells are closed at the south and west, open at the north and east.

    Parameters: latitude within ±90 degrees; longitude in degrees, wrapped if beyond ±180; `characters` 2, 4, 6, 8, 10.
    Returns: the locator in its canonical form. The pole belongs to the topmost row, longitude 180 is -180.
    Raises ValueError for a latitude beyond ±90, for no number and for another count of characters.
    The library rounds the last pair that it is asked for and so picks a neighbouring cell near an edge; it is asked
    for twenty characters, where that is 1e-11 degrees, and the text is cut.
    Source: IARU Region 1 VHF Managers Handbook, locator.
    """
    if characters not in GRID_LENGTHS:
        raise ValueError(f"A grid square has 2, 4, 6, 8 or 10 characters, not {characters}.")
    check_latitude(latitude_deg)
    latitude_deg = min(latitude_deg, 90 - JUST_BELOW_DEG)
    longitude_deg = min(wrapped_longitude(longitude_deg), 180 - JUST_BELOW_DEG)
    return canonical_grid(maidenhead.to_maiden(latitude_deg, longitude_deg, precision=10)[:characters])


@lru_cache(maxsize=65536)
def place_of_grid(grid):
    """Turn a locator into the centre of its cell and the cell's size.

    Raises ValueError as `canonical_grid` does.
    Source: IARU Region 1 VHF Managers Handbook, locator.
    """
    grid = canonical_grid(grid)
    latitude_deg, longitude_deg = maidenhead.to_location(grid, center=True)
    height_deg = GRID_HEIGHTS_DEG[len(grid)]
    return Place(latitude_deg, longitude_deg, height_deg, 2 * height_deg)


def cell_size_km(place):
    """Height and width in kilometres of the cell around a place, at its centre.

    h = M Δφ, b = N cosφ Δλ with M = a(1-e²)/(1-e² sin²φ)^1.5 and N = a/(1-e² sin²φ)^0.5.
    Source: meridian and prime-vertical radii of curvature, any geodesy text.
    """
    latitude = math.radians(place.latitude_deg)
    w = 1 - ECCENTRICITY_SQUARED * math.sin(latitude) ** 2
    meridian_m = SEMI_MAJOR_M * (1 - ECCENTRICITY_SQUARED) / w**1.5
    prime_vertical_m = SEMI_MAJOR_M / math.sqrt(w)
    height_km = meridian_m * math.radians(place.height_deg) / 1000
    width_km = prime_vertical_m * math.cos(latitude) * math.radians(place.width_deg) / 1000
    return height_km, width_km


@lru_cache(maxsize=65536)
def half_diagonal_km(place):
    """The farthest that a station can be from the centre of its cell: the geodesic to the farther pair of corners."""
    if not place.height_deg and not place.width_deg:
        return 0.0
    # A cell does not reach beyond a pole, so the corner nearer the equator is the farther one.
    corner_deg = place.south_deg if place.latitude_deg > 0 else place.north_deg
    return inverse(place.latitude_deg, place.longitude_deg, corner_deg, place.east_deg)[0]


# --- distance and bearing -------------------------------------------------------------------------------------------


def vincenty_inverse(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg):
    """Inverse geodesic on WGS84 by Vincenty's iteration; about fifteen times as fast as geographiclib in Python.

    Returns (distance_km, bearing_deg, bearing_at_end_deg), or None where the iteration does not settle (near the
    antipode) or the points are equal: ask geographiclib then.
    Validity: where it settles within 0.1 mm of Karney's algorithm; held against it in the tests.
    Source: T. Vincenty, Survey Review 23 (1975) 88-93.
    """
    u1 = math.atan((1 - FLATTENING) * math.tan(math.radians(latitude1_deg)))
    u2 = math.atan((1 - FLATTENING) * math.tan(math.radians(latitude2_deg)))
    difference = math.radians(wrapped_longitude(longitude2_deg - longitude1_deg))
    sin1, cos1, sin2, cos2 = math.sin(u1), math.cos(u1), math.sin(u2), math.cos(u2)
    longitude = difference
    for _ in range(30):
        sin_l, cos_l = math.sin(longitude), math.cos(longitude)
        east, north = cos2 * sin_l, cos1 * sin2 - sin1 * cos2 * cos_l
        sin_s = math.hypot(east, north)
        if sin_s < 1e-9:
            return None
        cos_s = sin1 * sin2 + cos1 * cos2 * cos_l
        angle = math.atan2(sin_s, cos_s)
        sin_a = cos1 * cos2 * sin_l / sin_s
        cos2_a = 1 - sin_a * sin_a
        cos_2m = cos_s - 2 * sin1 * sin2 / cos2_a if cos2_a > 1e-12 else 0.0
        c = FLATTENING / 16 * cos2_a * (4 + FLATTENING * (4 - 3 * cos2_a))
        series = cos_2m + c * cos_s * (-1 + 2 * cos_2m * cos_2m)
        previous = longitude
        longitude = difference + (1 - c) * FLATTENING * sin_a * (angle + c * sin_s * series)
        if abs(longitude - previous) < 1e-12:
            break
    else:
        return None
    if angle > 3.1:  # within 300 km of the antipode it may settle on a way that is not the shortest
        return None
    u = cos2_a * (SEMI_MAJOR_M**2 - SEMI_MINOR_M**2) / SEMI_MINOR_M**2
    a = 1 + u / 16384 * (4096 + u * (-768 + u * (320 - 175 * u)))
    b = u / 1024 * (256 + u * (-128 + u * (74 - 47 * u)))
    inner = cos_s * (-1 + 2 * cos_2m * cos_2m)
    outer = b / 6 * cos_2m * (-3 + 4 * sin_s * sin_s) * (-3 + 4 * cos_2m * cos_2m)
    correction = b * sin_s * (cos_2m + b / 4 * (inner - outer))
    bearing = whole_circle(math.degrees(math.atan2(east, north)))
    at_end = whole_circle(math.degrees(math.atan2(cos1 * sin_l, -sin1 * cos2 + cos1 * sin2 * cos_l)))
    return SEMI_MINOR_M * a * (angle - correction) / 1000, bearing, at_end


def inverse(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg):
    """Shortest distance and both bearings between two points on the WGS84 ellipsoid.

    Parameters: latitudes within ±90 degrees, any longitudes.
    Returns (distance_km, bearing_deg, bearing_back_deg), the bearings from 0 to below 360; both None for equal points.
    Raises ValueError for latitudes beyond ±90 and for what is no number.
    Validity: to 0.1 mm everywhere; near the antipode several bearings are about equally right.
    Source: C. F. F. Karney, J. Geodesy 87 (2013) 43-55 (geographiclib); Vincenty (1975) where that settles.
    """
    check_latitude(latitude1_deg)
    check_latitude(latitude2_deg)
    found = vincenty_inverse(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg)
    if found is None:
        whole = Geodesic.WGS84.Inverse(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg)
        if whole["s12"] < 1e-6:  # a micrometre: the same point
            return 0.0, None, None
        found = whole["s12"] / 1000, whole_circle(whole["azi1"]), whole_circle(whole["azi2"])
    distance_km, bearing_deg, at_end_deg = found
    return distance_km, bearing_deg, whole_circle(at_end_deg + 180)


def direct(latitude_deg, longitude_deg, bearing_deg, distance_km):
    """The point that lies so far in this direction on the WGS84 ellipsoid.

    Returns (latitude_deg, longitude_deg). Source: Karney (2013), geographiclib.
    """
    check_latitude(latitude_deg)
    there = Geodesic.WGS84.Direct(latitude_deg, longitude_deg, bearing_deg, distance_km * 1000)
    return there["lat2"], wrapped_longitude(there["lon2"])


def distance_sd_km(here, there, bearing_deg, bearing_back_deg):
    """Standard deviation of the distance for positions uniform over two cells that are small against it.

    σ = √ Σ [(b sinθ)² + (h cosθ)²]/12 over both ends, h and b height and width of the cell, θ the azimuth of the path.
    Source: error propagation for a uniform distribution.
    """
    total = 0.0
    for place, azimuth_deg in ((here, bearing_deg), (there, bearing_back_deg)):
        height_km, width_km = cell_size_km(place)
        azimuth = math.radians(azimuth_deg)
        total += (width_km * math.sin(azimuth)) ** 2 + (height_km * math.cos(azimuth)) ** 2
    return math.sqrt(total / 12)


@lru_cache(maxsize=65536)
def way(here, there):
    """The shortest way between two places, with the error that the size of their cells gives.

    Returns a Way. The distance is between the centres. Where the sum of the half-diagonals is larger than the distance
    the error is that sum, which always holds: two stations in the same square are "0 to 200 km apart", not 0.
    """
    distance_km, bearing_deg, bearing_back_deg = inverse(
        here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg
    )
    bound_km = half_diagonal_km(here) + half_diagonal_km(there)
    if bearing_deg is None or bound_km >= distance_km:
        return Way(distance_km, bound_km, bearing_deg, bearing_back_deg)
    return Way(
        distance_km, distance_sd_km(here, there, bearing_deg, bearing_back_deg), bearing_deg, bearing_back_deg
    )


def grid_way(grid1, grid2):
    """The way between two grid squares; both the squares and the pairs are remembered, as an import asks for them."""
    return way(place_of_grid(grid1), place_of_grid(grid2))


def bearing_error_deg(here, there):
    """The largest error of a bearing between two cells, None where it can be anything.

    arcsin[(half-diagonal 1 + half-diagonal 2)/distance].
    """
    distance_km = way(here, there).distance_km
    bound_km = half_diagonal_km(here) + half_diagonal_km(there)
    return math.degrees(math.asin(bound_km / distance_km)) if bound_km < distance_km else None


def edge_points(place, steps=24):
    """Points along the edge of a cell, the corners among them, as (latitude, longitude)."""
    latitudes = [place.south_deg + place.height_deg * i / steps for i in range(steps + 1)]
    longitudes = [place.west_deg + place.width_deg * i / steps for i in range(steps + 1)]
    points = {(latitude, place.west_deg) for latitude in latitudes} | {
        (latitude, place.east_deg) for latitude in latitudes
    }
    points |= {(place.south_deg, longitude) for longitude in longitudes}
    points |= {(place.north_deg, longitude) for longitude in longitudes}
    return sorted((max(-90.0, min(90.0, latitude)), longitude) for latitude, longitude in points)


def cells_overlap(here, there):
    """Whether two cells share a point."""
    apart_deg = abs(wrapped_longitude(here.longitude_deg - there.longitude_deg))
    return (
        abs(here.latitude_deg - there.latitude_deg) <= (here.height_deg + there.height_deg) / 2
        and apart_deg <= (here.width_deg + there.width_deg) / 2
    )


def distance_range_km(here, there):
    """The least and the greatest distance between any two points of two cells.

    Returns (min_km, max_km), to 1 % or 0.5 km: the edges are searched on the sphere, the ends are geodesics. Not for
    cells on opposite sides of the Earth, whose greatest distance may lie inside.
    """
    nearest = farthest = None
    for one in edge_points(here):
        for other in edge_points(there):
            apart_km = spherical_distance_km(*one, *other)
            if nearest is None or apart_km < nearest[0]:
                nearest = apart_km, one, other
            if farthest is None or apart_km > farthest[0]:
                farthest = apart_km, one, other
    least_km = 0.0 if cells_overlap(here, there) else inverse(*nearest[1], *nearest[2])[0]
    return least_km, inverse(*farthest[1], *farthest[2])[0]


def spherical_distance_km(latitude1_deg, longitude1_deg, latitude2_deg, longitude2_deg):
    """Haversine distance on the sphere of mean radius: for sorting and searching only, 0.45 % short to 0.56 % long.

    Source: R. W. Sinnott, Sky and Telescope 68 (1984) 159 (haversine).
    """
    phi1, phi2 = math.radians(latitude1_deg), math.radians(latitude2_deg)
    chord = (
        math.sin((phi2 - phi1) / 2) ** 2
        + math.cos(phi1) * math.cos(phi2) * math.sin(math.radians(longitude2_deg - longitude1_deg) / 2) ** 2
    )
    return 2 * MEAN_RADIUS_KM * math.asin(min(1.0, math.sqrt(chord)))


# --- maps -----------------------------------------------------------------------------------------------------------


def azimuthal_equidistant(centre_latitude_deg, centre_longitude_deg, latitude_deg, longitude_deg):
    """Project a point onto the map on which distance and bearing from the centre are true.

    x = s sin α, y = s cos α with the geodesic distance s and azimuth α from the centre.
    Returns (x_km, y_km), x to the east and y to the north.
    Source: J. P. Snyder, Map Projections, USGS Professional Paper 1395 (1987), section 25.
    """
    distance_km, bearing_deg, _ = inverse(centre_latitude_deg, centre_longitude_deg, latitude_deg, longitude_deg)
    if bearing_deg is None:
        return 0.0, 0.0
    azimuth = math.radians(bearing_deg)
    return distance_km * math.sin(azimuth), distance_km * math.cos(azimuth)


def azimuthal_equidistant_sphere(centre_latitude_deg, centre_longitude_deg, latitude_deg, longitude_deg):
    """The same map on the sphere of mean radius, as drawing libraries make it.

    Returns (x_km, y_km). Source: Snyder (1987), equations 22-4, 22-5 and 25-2.
    """
    phi0, phi = math.radians(centre_latitude_deg), math.radians(latitude_deg)
    east = math.radians(longitude_deg - centre_longitude_deg)
    x = math.cos(phi) * math.sin(east)
    y = math.cos(phi0) * math.sin(phi) - math.sin(phi0) * math.cos(phi) * math.cos(east)
    sine = math.hypot(x, y)
    if sine == 0:
        return 0.0, 0.0
    angle = math.atan2(sine, math.sin(phi0) * math.sin(phi) + math.cos(phi0) * math.cos(phi) * math.cos(east))
    return MEAN_RADIUS_KM * angle * x / sine, MEAN_RADIUS_KM * angle * y / sine


def destination_on_sphere(latitude_deg, longitude_deg, bearing_deg, distance_km):
    """The point that lies so far in this direction on the sphere of mean radius, for drawing on that sphere.

    Returns (latitude_deg, longitude_deg). Source: Snyder (1987), equations 20-14 and 20-15 (azimuthal equidistant).
    """
    phi, azimuth, angle = math.radians(latitude_deg), math.radians(bearing_deg), distance_km / MEAN_RADIUS_KM
    sine = math.sin(phi) * math.cos(angle) + math.cos(phi) * math.sin(angle) * math.cos(azimuth)
    east = math.atan2(
        math.sin(azimuth) * math.sin(angle) * math.cos(phi), math.cos(angle) - math.sin(phi) * sine
    )
    return math.degrees(math.asin(max(-1.0, min(1.0, sine)))), wrapped_longitude(longitude_deg + math.degrees(east))


# --- coordinates as people type them --------------------------------------------------------------------------------

HEMISPHERES = {"N": ("latitude", 1), "S": ("latitude", -1), "E": ("longitude", 1), "W": ("longitude", -1)}
LIMITS_DEG = {"latitude": 90, "longitude": 180}
SIGNS_OF_UNITS = str.maketrans("º˚’′‘”″“−", "°°'''\"\"\"-")
TOKEN = re.compile(r"([+-]?)([0-9]+(?:\.[0-9]*)?|\.[0-9]+)|([NSEW])|([°'\"])|([,;/])", re.ASCII)
EXAMPLES = "Examples: 48.1467, 11.6083; N 48° 08.800' E 11° 36.500'; 48°08'48\"N 11°36'30\"E."


def parse_position(text):
    """Read a position as typed: decimal degrees, degrees and minutes, or degrees, minutes and seconds.

    Parameters: `text`, latitude then longitude unless letters N, S, E, W say otherwise; a `geo:` address as phones
    share it is read too. A decimal comma is read where it can be nothing else (48,1467 11,6083).
    Returns (latitude_deg, longitude_deg).
    Raises ValueError with a sentence for the person who typed it.
    """
    text = prepared(text)
    if not text:
        raise ValueError("Coordinates are missing.")
    if match := re.fullmatch(r"geo:([^,;]+),([^,;]+)(?:[,;].*)?", text, re.IGNORECASE):
        text = f"{match[1]}, {match[2]}"
    halves = split_in_two(decimal_commas(text.upper()))
    first, second = (parse_angle(half) for half in halves)
    if first[1] == "longitude" or second[1] == "latitude":
        first, second = second, first
    if first[1] == "longitude" or second[1] == "latitude" or (first[1] is None) != (second[1] is None):
        raise ValueError(f"Give one latitude (N or S) and one longitude (E or W). {localised(EXAMPLES)}")
    return within(first[0], "latitude"), within(second[0], "longitude")


def parse_latitude(text):
    """Read a latitude alone; raises ValueError as `parse_position` does."""
    return parse_one(text, "latitude")


def parse_longitude(text):
    """Read a longitude alone; raises ValueError as `parse_position` does."""
    return parse_one(text, "longitude")


def parse_one(text, axis):
    """Read one coordinate of the named axis."""
    text = prepared(text).upper()
    if not text:
        raise ValueError(f"A {axis} is missing.")
    if re.fullmatch(r"[^,]*[0-9],[0-9]+[^,.]*", text, re.ASCII):
        text = text.replace(",", ".")
    value, found_axis = parse_angle(text)
    if found_axis not in (None, axis):
        raise ValueError(f"This is a {found_axis}; a {axis} is asked for.")
    return within(value, axis)


def prepared(text):
    """Trim the text and write its signs one way."""
    return " ".join(text.translate(SIGNS_OF_UNITS).replace("''", '"').split())


def decimal_commas(text):
    """Turn decimal commas into points where the rest of the text leaves no doubt that they are that."""
    inner = re.findall(r"(?<=[0-9]),(?=[0-9])", text, re.ASCII)
    if not inner or "." in text:
        return text
    outer = re.sub(r"(?<=[0-9]),(?=[0-9])", "", text)
    if len(inner) == 2 and re.search(r"[0-9°'\"NSEW][\s,;/]+[0-9NSEW+-]", outer):
        return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    if len(inner) == 1 and not re.search(r"[\s;/NSEW]", text):
        raise ValueError(
            f"{text} can be read as one number or as two. Write decimals with a point and a space between the two "
            f"coordinates. {EXAMPLES}"
        )
    if len(inner) == 3 and not re.search(r"[\s;/NSEW]", text):
        raise ValueError(f"Write decimals with a point: {text} has too many commas. {EXAMPLES}")
    return text


def split_in_two(text):
    """Cut the text between latitude and longitude."""
    if match := re.fullmatch(r"([^,;/]+)[,;/]([^,;/]+)", text):
        return match[1], match[2]
    if re.search(r"[,;/]", text):
        raise ValueError(f"Give two coordinates with one comma between them. {localised(EXAMPLES)}")
    letters = [match.start() for match in re.finditer(r"[NSEW]", text)]
    if len(letters) == 2:
        cut = letters[1] if letters[0] == 0 else letters[0] + 1
        return text[:cut], text[cut:]
    if len(letters) in (1, 3) or len(letters) > 3:
        raise ValueError(f"Give one letter N or S and one letter E or W, or none. {localised(EXAMPLES)}")
    if text.count("°") == 2:
        cut = re.search(r"°[^°]*?(?=[+-]?[0-9.]+\s?°)", text)
        if cut:
            return text[: cut.end()], text[cut.end() :]
    numbers = text.split(" ")
    if len(numbers) in (2, 4, 6):
        half = len(numbers) // 2
        return " ".join(numbers[:half]), " ".join(numbers[half:])
    raise ValueError(f"A latitude and a longitude could not be told apart. {localised(EXAMPLES)}")


def parse_angle(text):
    """Read one angle; returns (degrees, "latitude", "longitude" or None where no letter says which)."""
    numbers, letters, position, signed = [], [], 0, ""
    text = text.strip()
    while position < len(text):
        if text[position] == " ":
            position += 1
            continue
        match = TOKEN.match(text, position)
        if match is None or match[5]:
            raise ValueError(f"{text[position]!r} is not understood in {text!r}. {localised(EXAMPLES)}")
        if match[2]:
            if match[1] and numbers:
                raise ValueError(f"A sign stands only before the degrees, not inside {text!r}.")
            signed = match[1] if not numbers else signed
            numbers.append(match[2])
        elif match[3]:
            letters.append(match[3])
        elif "°'\"".index(match[4]) != len(numbers) - 1:
            raise ValueError(f"The sign {match[4]} is out of place in {text!r}. {localised(EXAMPLES)}")
        position = match.end()
    if not 1 <= len(numbers) <= 3 or len(letters) > 1:
        raise ValueError(f"{text!r} is not a coordinate. {localised(EXAMPLES)}")
    if signed and letters:
        raise ValueError(f"Give either a sign or a letter, not both: {text!r}.")
    if any("." in number for number in numbers[:-1]):
        raise ValueError(f"Only the last number of {text!r} may have decimals.")
    values = [float(number) for number in numbers]
    for name, value in zip(("minutes", "seconds"), values[1:], strict=False):
        if value >= 60:
            raise ValueError(f"There are no 60 {name} or more in a coordinate: {text!r}.")
    degrees = sum(value / 60**power for power, value in enumerate(values))
    axis, sign = HEMISPHERES[letters[0]] if letters else (None, -1 if signed == "-" else 1)
    return sign * degrees, axis


def within(value_deg, axis):
    """Refuse what lies beyond the Earth: a typed longitude of 250 is more likely a mistake than a second turn."""
    limit = LIMITS_DEG[axis]
    if abs(value_deg) > limit:
        raise ValueError(f"A {axis} lies between -{limit} and {limit} degrees, not at {Numeral(value_deg):g}.")
    return value_deg


def format_decimal(latitude_deg, longitude_deg, decimals=5):
    """48.14666, 11.60833: five decimals are about a metre. With decimal commas 48,14666; 11,60833."""
    return localised(f"{latitude_deg:.{decimals}f}, {longitude_deg:.{decimals}f}")


def format_minutes(latitude_deg, longitude_deg, decimals=3):
    """48° 08.800′ N 11° 36.500′ E: three decimals are about two metres."""
    return " ".join(
        f"{degrees}° {Numeral(minutes):0{width}.{decimals}f}′ {letter}"
        for degrees, minutes, letter, width in (
            in_minutes(latitude_deg, "NS", decimals), in_minutes(longitude_deg, "EW", decimals)
        )
    )


def in_minutes(angle_deg, letters, decimals):
    """Whole degrees, minutes rounded so that 60 carries over, the letter, and how wide the minutes are printed."""
    unit = 10**decimals
    degrees, minutes = divmod(round(abs(angle_deg) * 60 * unit), 60 * unit)
    return degrees, minutes / unit, letters[angle_deg < 0], decimals + 3 if decimals else 2


def format_seconds(latitude_deg, longitude_deg, decimals=1):
    """48° 08′ 48.0″ N 11° 36′ 30.0″ E."""
    parts = []
    for angle_deg, letters in ((latitude_deg, "NS"), (longitude_deg, "EW")):
        unit = 10**decimals
        degrees, rest = divmod(round(abs(angle_deg) * 3600 * unit), 3600 * unit)
        minutes, seconds = divmod(rest, 60 * unit)
        width = decimals + 3 if decimals else 2
        parts.append(
            f"{degrees}° {minutes:02d}′ {Numeral(seconds / unit):0{width}.{decimals}f}″ {letters[angle_deg < 0]}"
        )
    return " ".join(parts)


# --- time zones -----------------------------------------------------------------------------------------------------


def nautical_zone(longitude_deg):
    """The zone of ships at sea, fifteen degrees wide: Etc/GMT-1, with the zone files' sign, is an hour ahead of UTC."""
    hours = math.floor((wrapped_longitude(longitude_deg) + 7.5) / 15)
    return "Etc/GMT" if hours == 0 else f"Etc/GMT{-hours:+d}"


@lru_cache(maxsize=4096)
def time_zone(latitude_deg, longitude_deg):
    """The name of the time zone at a position, as the zone files of the IANA know it; at sea the nautical zone.

    Raises ValueError for a latitude beyond ±90.
    Source: boundaries of timezone-boundary-builder as tzfpy carries them.
    """
    check_latitude(latitude_deg)
    longitude_deg = wrapped_longitude(longitude_deg)
    name = tzfpy.get_tz(longitude_deg, latitude_deg) or nautical_zone(longitude_deg)
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        return nautical_zone(longitude_deg)  # newer than this machine's zone files
    return name
