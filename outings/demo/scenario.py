"""An invented year as plain data: sites, gear, 24 outings, their stints and contacts, made from a seed; pure.

Every place, call sign and figure is invented. The true rates are known, so that what the pages conclude can be held
against them. The true rate of a stint, in contacts per hour on the air, is

    BASE_PER_H[arrangement] × BAND[band] × HOUR[band][part of the day] × SITE[site] × MODE[mode]
    × CALLING[calling] × burst

where the burst is drawn once a stint from a gamma distribution with shape BURST_SHAPE and mean 1 (people answer in
waves), and the contacts of a stint are a Poisson process at that rate. The use is unfair on purpose, as in life: the
best arrangement (the linked dipole as an inverted V) is mostly put up in the quiet mornings and used to answer others,
the tall whip mostly at noon on 20m while calling; raw rates therefore put the whip first, the true rates do not.

Where the other stations are: a table of regions, weighted by how many people there are and by how well the distance
suits the band (a lognormal around the band's usual distance, stretched by the arrangement's REACH).
"""

import datetime
import math
import random
from dataclasses import dataclass
from functools import lru_cache

from outings import geography

SEED = 20260501
BURST_SHAPE = 5.0

BASE_PER_H = {
    "whip tall": 20.0, "whip coil": 10.0, "wire sloping": 22.0, "wire low": 9.0, "dipole vee": 27.0,
    "dipole flat": 16.0, "loop": 8.0,
}
REACH = {
    "whip tall": 1.35, "whip coil": 1.1, "wire sloping": 1.05, "wire low": 0.6, "dipole vee": 1.0, "dipole flat": 0.6,
    "loop": 0.9,
}
BAND = {"40m": 0.9, "30m": 0.6, "20m": 1.0, "15m": 0.8, "10m": 0.6}
PARTS = ("night", "morning", "noon", "afternoon", "evening")
HOUR = {  # relative to the band's good hours
    "40m": {"night": 0.8, "morning": 0.75, "noon": 0.4, "afternoon": 0.8, "evening": 1.2},
    "30m": {"night": 0.8, "morning": 0.8, "noon": 0.7, "afternoon": 0.9, "evening": 1.1},
    "20m": {"night": 0.3, "morning": 0.7, "noon": 1.2, "afternoon": 1.1, "evening": 0.8},
    "15m": {"night": 0.1, "morning": 0.5, "noon": 1.2, "afternoon": 1.0, "evening": 0.4},
    "10m": {"night": 0.1, "morning": 0.3, "noon": 1.1, "afternoon": 1.0, "evening": 0.3},
}
MODE = {"SSB": 1.0, "CW": 1.05, "FT8": 1.3}
CALLING = {"calling": 1.0, "answering": 0.45, "both": 0.75}
SITE = {
    "ridge": 1.2, "dune": 1.15, "quarry": 0.8, "lake": 1.0, "tower": 1.05, "heath": 0.95, "fjord": 0.9, "marsh": 1.0,
}

USUAL_KM = {"40m": 650, "30m": 1100, "20m": 1500, "15m": 2600, "10m": 3000}
FREQUENCY_HZ = {
    ("40m", "SSB"): 7_144_000, ("40m", "CW"): 7_032_000, ("40m", "FT8"): 7_074_000, ("30m", "CW"): 10_118_000,
    ("20m", "SSB"): 14_244_000, ("20m", "CW"): 14_034_000, ("20m", "FT8"): 14_074_000, ("15m", "SSB"): 21_244_000,
    ("15m", "CW"): 21_032_000, ("10m", "SSB"): 28_444_000,
}

# People live there: (latitude, longitude, weight, half the width of the spread in degrees).
REGIONS = (
    (52.3, 10.5, 9, 1.6), (50.3, 8.6, 8, 1.5), (48.6, 11.2, 7, 1.4), (51.9, 19.3, 5, 1.6), (50.1, 15.2, 4, 1.0),
    (47.2, 19.3, 3, 1.0), (47.3, 14.6, 2, 0.8), (46.8, 8.0, 3, 0.6), (45.3, 9.8, 5, 0.8), (42.3, 12.9, 4, 0.7),
    (47.2, 2.6, 5, 2.0), (44.3, 2.2, 3, 1.2), (51.0, 4.6, 4, 0.5), (52.2, 5.9, 4, 0.5), (52.4, -1.4, 7, 1.2),
    (54.9, -3.2, 3, 0.8), (53.2, -7.8, 2, 0.8), (40.2, -3.9, 5, 1.8), (39.8, -8.0, 2, 0.6), (59.2, 15.4, 3, 1.2),
    (61.8, 25.6, 3, 1.6), (60.4, 9.8, 2, 0.9), (56.1, 9.2, 2, 0.6), (55.4, 24.3, 2, 1.0), (45.4, 25.2, 3, 1.4),
    (42.8, 25.1, 2, 0.9), (44.2, 20.8, 2, 0.8), (45.5, 16.2, 2, 0.5), (50.3, 29.8, 3, 2.0), (55.8, 37.8, 3, 2.0),
    (39.4, 33.0, 2, 1.8), (39.4, 22.2, 1, 0.6), (32.4, 34.95, 1, 0.2), (34.0, -5.6, 1, 0.8), (25.1, 55.6, 1, 0.3),
    (41.2, -75.2, 5, 1.5), (39.9, -83.2, 4, 1.8), (34.1, -84.0, 3, 1.6), (44.6, -78.6, 2, 1.0), (32.5, -97.3, 2, 1.6),
    (36.9, -119.6, 2, 1.0), (-22.6, -47.4, 2, 1.2), (-34.2, -59.6, 1, 0.8), (36.3, 139.4, 2, 0.5),
    (-33.2, 149.4, 1, 1.2), (-26.4, 28.2, 1, 0.9), (28.4, 77.4, 1, 1.4), (64.6, -18.8, 1, 0.8),
)
NAMES = (
    "Ada", "Ben", "Cleo", "Dan", "Edda", "Finn", "Gus", "Hanne", "Ivo", "June", "Kai", "Lena", "Milo", "Nora", "Otto",
    "Pia", "Rolf", "Sara", "Tom", "Una", "Vera", "Will", "Yara", "Zeno",
)


@dataclass(frozen=True)
class DemoSite:
    key: str
    name: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    reference: str
    supports: str
    facilities: str
    noise: str


SITES = (
    DemoSite(
        "ridge", "Demo: Falcon Ridge", 51.7833, 10.5471, 812, "QD-0001",
        "two beeches 14 m apart, bare top", "bench, no water", "quiet",
    ),
    DemoSite(
        "dune", "Demo: Amber Dune", 54.4521, 12.5583, 9, "QD-0002",
        "none, sand: screw anchor", "car park 400 m", "quiet",
    ),
    DemoSite(
        "quarry", "Demo: Old Quarry", 50.9142, 7.1187, 168, "QD-0003",
        "rock face 8 m", "shelter", "hum from a pump at night",
    ),
    DemoSite(
        "lake", "Demo: Mirror Lake", 53.2046, 12.9218, 61, "QD-0004",
        "jetty rail, alders", "picnic table, water", "quiet",
    ),
    DemoSite(
        "tower", "Demo: Tower Hill", 49.0437, 13.1462, 1102, "QD-0005",
        "fence posts, spruces", "hut in summer", "a repeater near by",
    ),
    DemoSite(
        "heath", "Demo: Juniper Heath", 53.1594, 9.9307, 118, "QD-0006",
        "single oaks", "none", "quiet",
    ),
    DemoSite(
        "fjord", "Demo: North Fjord", 69.6127, 18.9413, 22, "QD-0007",
        "birches 5 m", "cabin near by", "very quiet",
    ),
    DemoSite(
        "marsh", "Demo: Heron Marsh", 52.7812, 14.1025, 4, "QD-0008",
        "hide with a rail, willows", "hide with a roof", "fence charger at times",
    ),
)

# Stints of an outing: (arrangement, band, mode, calling, minutes); with the kit and the hour (UTC) that it begins at.
PLANS = (
    ("hill", 5, (("dipole vee", "40m", "SSB", "answering", 40), ("dipole vee", "40m", "CW", "answering", 35),
                 ("dipole flat", "40m", "SSB", "calling", 30), ("dipole vee", "20m", "SSB", "answering", 35))),
    ("hill", 10, (("whip tall", "20m", "SSB", "calling", 60), ("whip tall", "15m", "SSB", "calling", 40),
                  ("dipole vee", "20m", "SSB", "calling", 25), ("whip tall", "20m", "CW", "calling", 35))),
    ("shore", 11, (("wire sloping", "20m", "SSB", "calling", 45), ("whip tall", "20m", "SSB", "calling", 45),
                   ("whip tall", "10m", "SSB", "calling", 25), ("wire sloping", "40m", "SSB", "both", 30))),
    ("shore", 15, (("wire sloping", "40m", "SSB", "calling", 45), ("wire low", "40m", "SSB", "calling", 40),
                   ("wire sloping", "30m", "CW", "calling", 30), ("wire sloping", "20m", "CW", "both", 35))),
    ("light", 8, (("loop", "20m", "FT8", "both", 45), ("whip coil", "40m", "CW", "answering", 35),
                  ("loop", "20m", "CW", "answering", 40), ("whip coil", "20m", "SSB", "calling", 30))),
    ("light", 16, (("whip coil", "40m", "SSB", "calling", 45), ("loop", "40m", "FT8", "both", 40),
                   ("whip coil", "20m", "CW", "calling", 35))),
)
GOALS = {"hill": 40, "shore": 45, "light": 25}
POWER_W = {"hill": 10.0, "shore": 20.0, "light": 5.0}
RADIO = {"hill": "tin", "shore": "shore", "light": "tin"}
PACK = {"hill": "six", "shore": "gel", "light": "three"}

# Which plan and which site each of the 23 outings that were held has, and how many days before today it was.
HELD = (
    (356, 0, "ridge"), (341, 2, "dune"), (327, 4, "quarry"), (310, 3, "lake"), (292, 1, "tower"), (278, 5, "heath"),
    (263, 0, "marsh"), (249, 1, "ridge"), (233, 2, "lake"), (219, 4, "heath"), (203, 3, "dune"), (190, 0, "quarry"),
    (176, 1, "heath"), (162, 2, "fjord"), (161, 5, "fjord"), (160, 1, "fjord"), (132, 3, "marsh"), (111, 0, "tower"),
    (94, 4, "ridge"), (73, 2, "dune"), (52, 5, "lake"), (31, 1, "ridge"), (12, 3, "heath"),
)
AHEAD_DAYS = 5  # the one that is planned, at Mirror Lake with the hill kit


@dataclass(frozen=True)
class DemoContact:
    at: datetime.datetime
    call: str
    grid: str
    name: str
    rst_sent: str
    rst_rcvd: str
    pending: bool = False


@dataclass(frozen=True)
class DemoStint:
    arrangement: str
    band: str
    mode: str
    calling: str
    frequency_hz: int
    power_w: float
    started_at: datetime.datetime
    ended_at: datetime.datetime
    pause: tuple | None
    true_per_h: float
    burst: float
    contacts: tuple = ()

    @property
    def on_air_h(self):
        paused = self.pause[1] - self.pause[0] if self.pause else datetime.timedelta()
        return (self.ended_at - self.started_at - paused).total_seconds() / 3600


@dataclass(frozen=True)
class DemoReading:
    at: datetime.datetime
    pack: str
    voltage_v: float
    current_a: float | None
    temperature_c: float
    doing: str
    resting_since: datetime.datetime | None = None


@dataclass(frozen=True)
class DemoOuting:
    site: str
    kit: str
    window_start: datetime.datetime
    window_end: datetime.datetime
    bands: tuple
    goal: int
    solar_flux: int
    a_index: int
    k_index: int
    held: bool
    stints: tuple = ()


@dataclass(frozen=True)
class Scenario:
    today: datetime.date
    outings: tuple = ()
    readings: tuple = ()


def part_of_day(hour_local):
    """The name of the part of the day that an hour by the sun belongs to."""
    for name, end in (("night", 5), ("morning", 10), ("noon", 14), ("afternoon", 18), ("evening", 22)):
        if hour_local < end:
            return name
    return "night"


def true_rate_per_h(arrangement, band, at, site, mode="SSB", calling="calling"):
    """The true rate in contacts per hour on the air, without the burst; hours go by the sun at the site's longitude."""
    here = next(place for place in SITES if place.key == site)
    hour = (at.hour + at.minute / 60 + here.longitude_deg / 15) % 24
    return (
        BASE_PER_H[arrangement] * BAND[band] * HOUR[band][part_of_day(hour)]
        * SITE[site] * MODE[mode] * CALLING[calling]
    )


def scenario(today, seed=SEED):
    """The year that ends at `today` (a date), the same for the same date and seed; moved by days for another date."""
    draw = random.Random(seed)
    others = []  # stations met before, some of which are met again
    outings = [held_outing(draw, others, today, *line) for line in HELD]
    outings.append(planned_outing(today))
    return Scenario(today, tuple(outings), tuple(readings(draw, outings)))


def held_outing(draw, others, today, days_ago, plan, site):
    kit, hour, lines = PLANS[plan]
    day = datetime.datetime.combine(today - datetime.timedelta(days=days_ago), datetime.time(hour), datetime.UTC)
    start = day + datetime.timedelta(minutes=draw.randrange(0, 60, 5))
    at = start + datetime.timedelta(minutes=draw.randint(12, 28))
    stints = []
    for line in lines:
        stint = drawn_stint(draw, others, line, at, site, POWER_W[kit])
        stints.append(stint)
        at = stint.ended_at + datetime.timedelta(minutes=draw.randint(4, 14))
    bands = tuple(dict.fromkeys(stint.band for stint in stints))
    return DemoOuting(
        site, kit, start, at, bands, GOALS[kit], draw.randint(110, 190), draw.randint(3, 22), draw.randint(0, 4), True,
        tuple(stints),
    )


def planned_outing(today):
    start = datetime.datetime.combine(
        today + datetime.timedelta(days=AHEAD_DAYS), datetime.time(9, 30), datetime.UTC
    )
    return DemoOuting(
        "lake", "hill", start, start + datetime.timedelta(hours=4), ("40m", "20m", "15m", "6m"), 40, 155, 8, 2, False
    )


def drawn_stint(draw, others, line, at, site, power_w):
    arrangement, band, mode, calling, minutes = line
    length = datetime.timedelta(minutes=round(minutes * draw.uniform(0.85, 1.15)), seconds=draw.randrange(60))
    pause = None
    if minutes >= 40 and draw.random() < 0.25:
        begin = at + datetime.timedelta(minutes=minutes // 2)
        pause = (begin, begin + datetime.timedelta(minutes=6))
        length += pause[1] - pause[0]
    end = at + length
    true = true_rate_per_h(arrangement, band, at + length / 2, site, mode, calling)
    burst = draw.gammavariate(BURST_SHAPE, 1 / BURST_SHAPE)
    frequency_hz = FREQUENCY_HZ[band, mode] + (0 if mode == "FT8" else draw.randrange(-20, 21) * 500)
    here = next(place for place in SITES if place.key == site)
    contacts, worked, on_air = [], set(), datetime.timedelta()
    while True:
        on_air += datetime.timedelta(hours=draw.expovariate(true * burst))
        moment = at + on_air
        if pause and moment >= pause[0]:
            moment += pause[1] - pause[0]
        if moment >= end:
            break
        moment = moment.replace(microsecond=0)
        contacts.append(drawn_contact(draw, others, worked, here, arrangement, band, mode, moment))
    return DemoStint(
        arrangement, band, mode, calling, frequency_hz, power_w, at, end, pause, true, burst, tuple(contacts)
    )


def drawn_contact(draw, others, worked, here, arrangement, band, mode, moment):
    """A station that is not worked twice in a stint; one in six was met before."""
    known = [station for station in others if station[0] not in worked]
    if known and draw.random() < 1 / 6:
        call, grid, name = draw.choice(known)
    else:
        call, grid, name = drawn_station(draw, here, arrangement, band)
        while call in worked or any(call == station[0] for station in others):
            call = drawn_call(draw)
        others.append((call, grid, name))
    worked.add(call)
    sent, rcvd = drawn_reports(draw, mode)
    pending = draw.random() < 0.006
    if pending:
        return DemoContact(moment, call[:-1] + "?", "", "", sent, rcvd, True)
    return DemoContact(moment, call, grid, name, sent, rcvd)


def drawn_station(draw, here, arrangement, band):
    """Call, grid square ("" where it was not given) and name of somebody whom this band may well reach from here."""
    weights = weights_of_regions(here, USUAL_KM[band] * REACH[arrangement])
    latitude_deg, longitude_deg, _, spread = draw.choices(REGIONS, weights)[0]
    latitude_deg += max(-spread, min(spread, draw.gauss(0, spread / 2)))
    longitude_deg += max(-1.5 * spread, min(1.5 * spread, draw.gauss(0, 0.75 * spread)))
    grid = geography.grid_of(latitude_deg, longitude_deg, 6 if draw.random() < 0.55 else 4)
    given = draw.random()
    return drawn_call(draw), grid if given < 0.86 else "", draw.choice(NAMES) if given < 0.7 else ""


@lru_cache(maxsize=1024)
def weights_of_regions(here, usual_km):
    """How likely each region is to be heard at a site, on a band that usually reaches so far."""
    weights = []
    for latitude_deg, longitude_deg, weight, _ in REGIONS:
        away_km = geography.inverse(here.latitude_deg, here.longitude_deg, latitude_deg, longitude_deg)[0]
        weights.append(weight * math.exp(-0.5 * (math.log(max(away_km, 40) / usual_km) / 0.65) ** 2))
    return tuple(weights)


def drawn_call(draw):
    """A call sign that begins with Q, which no country is given."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    middle = draw.choice(letters[:20]) if draw.random() < 0.3 else ""
    call = f"Q{middle}{draw.randrange(10)}" + "".join(draw.choices(letters, k=draw.choice((2, 3, 3))))
    return call + ("/P" if draw.random() < 0.08 else "")


def drawn_reports(draw, mode):
    if mode == "FT8":
        return f"{draw.randint(-18, 6):+03d}", f"{draw.randint(-20, 2):+03d}"
    tone = "9" if mode == "CW" else ""
    return tuple(f"5{draw.choices('9876543', (12, 4, 5, 3, 3, 1, 1))[0]}{tone}" for _ in range(2))


FULL_V = {"six": 13.34, "three": 12.52, "gel": 12.84}  # resting after a charge
SAG_V = {"six": 0.42, "three": 0.75, "gel": 0.62}  # from full to empty enough to go home, resting
LOAD_V = {"six": 0.16, "three": 0.28, "gel": 0.34}  # further down under transmit load


def readings(draw, outings):
    """Three voltages an outing: resting, under load, and resting again."""
    found = []
    hours = datetime.timedelta(hours=1)
    for outing in outings:
        if not outing.held:
            continue
        pack = PACK[outing.kit]
        season = math.sin((outing.window_start.timetuple().tm_yday - 110) / 365 * 2 * math.pi)
        warm_c = round(10 + 9 * season + draw.gauss(0, 2), 1)
        used = draw.uniform(0.5, 1.0)
        found.append(DemoReading(
            outing.window_start - hours, pack, round(FULL_V[pack] + draw.gauss(0, 0.02), 2), None, warm_c, "resting",
            outing.window_start - 14 * hours,
        ))
        middle = outing.stints[len(outing.stints) // 2]
        current_a = round(1.1 + 0.11 * middle.power_w + draw.gauss(0, 0.05), 2)
        found.append(DemoReading(
            middle.started_at + datetime.timedelta(minutes=9), pack,
            round(FULL_V[pack] - SAG_V[pack] * used / 2 - LOAD_V[pack], 2), current_a, warm_c, "transmitting",
        ))
        found.append(DemoReading(
            outing.window_end + 2 * hours, pack, round(FULL_V[pack] - SAG_V[pack] * used, 2), None, warm_c, "resting",
            outing.window_end,
        ))
    return found
