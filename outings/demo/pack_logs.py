"""The invented capacity tests and charges of the demo scenario, as files of a logger, from the seed; pure."""

import datetime
import math
import random
from dataclasses import dataclass

from equipment.physics import cell_curves

from . import gear, scenario

# Pack, how many days before the last day it was tested, true capacity in A h, and resistance in ohm.
TESTS = (("six", 320, 5.85, 0.062), ("six", 45, 5.7, 0.070), ("three", 60, 2.85, 0.110), ("gel", 75, 4.9, 0.052))
CHARGES_FROM_DAYS = 200  # before the last day; earlier the charger had no logger
MEAN_A = {"six": 0.42, "three": 0.36, "gel": 0.66}  # on the air
CHARGER_A = {"six": 2.0, "three": 1.0, "gel": 1.2}
NOISE_V = 0.002
TEST_STEP_S, CHARGE_STEP_S = 30, 60


@dataclass(frozen=True)
class DemoLog:
    pack: str
    kind: str
    at: datetime.datetime
    file_name: str
    content: bytes
    cutoff_v: float | None = None


def pack_logs(outings, today, seed=scenario.SEED):
    """The tests of each pack, and the charges after the outings of the later part of the year, in order of time."""
    dice = random.Random(f"{seed} packs")
    packs = dict(gear.PACKS)
    found = []
    for number, (key, days, ah, ohm) in enumerate(TESTS, 1):
        at = datetime.datetime.combine(today - datetime.timedelta(days=days), datetime.time(18, 5), datetime.UTC)
        content = discharge(dice, packs[key], ah, ohm)
        found.append(DemoLog(key, "test", at, f"demo-load-{number}.csv", content, packs[key]["cutoff_v"]))
    for number, outing in enumerate((one for one in outings if one.held), 1):
        if (today - outing.window_start.date()).days > CHARGES_FROM_DAYS:
            continue
        key = scenario.PACK[outing.kit]
        on_air_h = sum(stint.on_air_h for stint in outing.stints)
        capacity = packs[key].get("measured_ah") or packs[key]["rated_ah"]
        used = min(0.9 * capacity, on_air_h * MEAN_A[key] * math.exp(dice.gauss(0, 0.08)))
        at = outing.window_end + datetime.timedelta(hours=3)
        content = charge(dice, packs[key], used, capacity, at)
        found.append(DemoLog(key, "charge", at, f"demo-charge-{number}.csv", content))
    return tuple(sorted(found, key=lambda log: log.at))


def discharge(dice, pack, ah, ohm):
    """A load of a fifth of the capacity with a heavier one for two minutes of each ten, down to the lowest voltage."""
    curve = cell_curves.pack_v(pack["chemistry"], pack["cells_in_series"])
    light, heavy = round(0.2 * ah, 2), round(min(0.8 * ah, 0.9 * pack.get("max_discharge_a", 1e9)), 2)
    lines, used, seconds = ["Zeit (s);Spannung (V);Strom (A)"], 0.0, 0
    while True:
        amps = heavy if seconds % 600 >= 480 else light
        share = 1 - used / ah
        resting = curve(share) if share >= 0 else curve(0.0) + 60 * share  # an empty pack breaks down
        volts = resting - ohm * amps + dice.gauss(0, NOISE_V)
        lines.append(f"{seconds};{volts:.3f};{amps:.2f}".replace(".", ","))
        if volts < pack["cutoff_v"]:
            return "\n".join([*lines, ""]).encode()
        used += amps * TEST_STEP_S / 3600
        seconds += TEST_STEP_S


def charge(dice, pack, used_ah, capacity_ah, at):
    """The charger's current until most is in, then falling to a twenty-fifth of the capacity at its voltage limit."""
    curve = cell_curves.pack_v(pack["chemistry"], pack["cells_in_series"])
    amps = CHARGER_A[next(key for key, fields in gear.PACKS if fields is pack)]
    end_a, limit_v, ohm = capacity_ah / 25, pack["max_charge_v"], pack.get("resistance_ohm", 0.11)
    tail_ah = min(0.05 * capacity_ah, 0.3 * used_ah)
    tail_h = tail_ah / (amps - end_a)  # the time constant that makes the falling part hold so much
    steady_h = (used_ah - tail_ah) / amps
    lines, minute = ["timestamp,voltage (V),current (A)"], 0
    while True:
        hours = minute * CHARGE_STEP_S / 3600
        if hours <= steady_h:
            now_a = amps
            volts = min(limit_v, curve(min(1.0, 1 - (used_ah - amps * hours) / capacity_ah)) + ohm * amps)
        else:
            now_a, volts = amps * math.exp(-(hours - steady_h) / tail_h), limit_v
        moment = at + datetime.timedelta(seconds=minute * CHARGE_STEP_S)
        lines.append(f"{moment:%Y-%m-%dT%H:%M:%SZ},{volts + dice.gauss(0, NOISE_V):.3f},{now_a:.3f}")
        if now_a <= end_a:
            return "\n".join([*lines, ""]).encode()
        minute += 1
