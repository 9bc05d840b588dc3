"""What the logs of a pack show: one log with its picture, the health over time, and what is due."""

import datetime
import math
from dataclasses import dataclass

from django.utils import timezone

from equipment.models import PackLog
from equipment.numerals import Numeral
from equipment.physics import log_files, pack_logs
from equipment.physics.log_files import Chosen

from .bench.answers import Figure, Picture

# Where a test of one cell ends under load. Common practice, no source; the maker's data come first.
LOWEST_CELL_V = {"LiFePO4": 2.5, "Li-ion": 3.0, "lead-acid": 1.75, "NiMH": 1.0}
# Of charge and energy: a shunt good to 1 %, a clock and a voltmeter to 0.5 %; common practice, no source.
METER_ERROR = math.hypot(0.01, 0.005)
ENERGY_ERROR = math.hypot(METER_ERROR, 0.005)
# How long a measurement holds, in days. Common practice, no source.
TEST_DUE_DAYS = 365
CHECK_DUE_DAYS = 90


@dataclass(frozen=True)
class LogLook:
    """What a log shows, ready to be kept and to be drawn."""

    kind: str
    ah: float
    wh: float
    seconds: float
    end_v: float
    end_a: float
    cutoff_v: float | None
    is_complete: bool
    longest_gap_share: float
    resistance: pack_logs.Resistance | None
    picture: Picture
    moments: tuple[tuple[float, float, float], ...]  # hours, volts, amperes; twelve of them for the table
    remarks: tuple[str, ...]

    @property
    def figures(self):
        """What it shows, each with its range by the usual errors of shunt and clock; n are the load steps."""
        off = METER_ERROR
        found = [
            Figure("Charge", self.ah, "charge", self.ah * (1 - off), self.ah * (1 + off),
                   note="" if self.is_complete else "at least"),
            Figure("Energy", self.wh, "energy", self.wh * (1 - ENERGY_ERROR), self.wh * (1 + ENERGY_ERROR)),
            Figure("Lasted", self.seconds / 3600, "duration"),
        ]
        return (*found, resistance_figure(self.resistance))


def resistance_figure(found):
    """Internal resistance with the 95 % interval of its load steps, where there are three or more."""
    if found is None:
        return Figure("Internal resistance", None, "resistance", none="no usable change of load")
    reach = 1.96 * found.error_ohm if found.error_ohm else None
    ends = (max(0.0, found.ohm - reach), found.ohm + reach) if reach else (None, None)
    steps = f"{found.steps} load step{'s' if found.steps != 1 else ''}, {Numeral(found.within_s):g} s apart"
    return Figure("Internal resistance", found.ohm, "resistance", *ends, note=f"n = {steps}")


def look(kind, log, pack, cutoff_v):
    """What a LogRead shows as a capacity test or a charge of a pack. ValueError where it cannot be one."""
    seconds, volts, amps = log.seconds, log.volts, pack_logs.positive(log.amps)
    remarks = list(log.remarks)
    if kind == PackLog.Kind.TEST:
        test = pack_logs.discharge(seconds, volts, amps, cutoff_v)
        end = next((j for j, v in enumerate(volts) if v <= cutoff_v), len(volts) - 1)
        found = (test.ah, test.wh, test.seconds, min(volts[: end + 1]), amps[end])
        is_complete, gap = test.reached_cutoff, test.longest_gap_share
        if not is_complete:
            remarks.append("it never came down to the cut-off: the capacity is at least this")
    else:
        put_in = pack_logs.charge(seconds, volts, amps)
        found = (put_in.ah, put_in.wh, put_in.seconds, put_in.end_v, put_in.end_a)
        capacity = pack.measured_ah or pack.rated_ah
        is_complete = bool(capacity) and pack_logs.ends_full(put_in, capacity, pack.max_charge_v)
        gap = put_in.longest_gap_share
        if not is_complete:
            remarks.append(
                "it did not end full: full is a current below a twentieth of the capacity at the charger’s limit"
            )
    if found[0] <= 0:
        raise ValueError("no current flowed")
    if gap > 0.05:
        remarks.append(f"one gap between two readings is {100 * gap:.0f} % of the whole log")
    resistance = pack_logs.resistance(seconds, volts, amps, charging=kind == PackLog.Kind.CHARGE)
    shown_v = cutoff_v if kind == PackLog.Kind.TEST else None
    thin = pack_logs.thinned(seconds, volts, amps)
    every = max(1, (len(seconds) - 1) // 12)
    moments = tuple((seconds[j] / 3600, volts[j], amps[j]) for j in range(0, len(seconds), every))
    return LogLook(
        kind, *found, shown_v, is_complete, gap, resistance, log_picture(thin, shown_v), moments, tuple(remarks)
    )


def log_picture(moments, cutoff_v=None):
    """Voltage and current over the hours of a log."""
    rules = [{"y": cutoff_v, "label": "lowest voltage"}] if cutoff_v else []
    return Picture("traces", "Voltage and current over the hours of the log", {
        "x": "hours", "panels": [
            {"unit": "V", "rules": rules, "lines": [
                {"label": "voltage", "points": [[round(s / 3600, 5), round(v, 4)] for s, v, _ in moments]},
            ]},
            {"unit": "A", "rules": [], "from_zero": True, "lines": [
                {"label": "current", "points": [[round(s / 3600, 5), round(i, 4)] for s, _, i in moments]},
            ]},
        ],
    })


def look_again(row):
    """What a kept log shows, from its file."""
    return look(row.kind, log_files.read(row.file, Chosen(**row.read_as)), row.pack, row.cutoff_v)


@dataclass(frozen=True)
class HealthRow:
    """One complete or broken-off test: what it gave, and which share of the rated capacity that is."""

    log: PackLog
    share_pct: float | None


@dataclass(frozen=True)
class PackHealth:
    """The tests and charges of a pack, newest first, its picture, and what is due."""

    tests: tuple[HealthRow, ...]
    charges: tuple[PackLog, ...]
    picture: Picture | None
    due: tuple[str, ...]
    fade: str = ""


def pack_health(pack, now=None):
    """Health over time and what is due, in three queries."""
    now = now or timezone.now()
    logs = list(pack.logs.without_file())
    tests = [
        HealthRow(log, 100 * log.ah / pack.rated_ah if pack.rated_ah else None)
        for log in logs if log.kind == PackLog.Kind.TEST
    ]
    charges = tuple(log for log in logs if log.kind == PackLog.Kind.CHARGE)
    last_reading = pack.readings.order_by("-at").values_list("at", flat=True).first()
    seen = max([moment for moment in (last_reading, *(log.started_at for log in logs)) if moment], default=None)
    return PackHealth(tuple(tests), charges, health_picture(tests), due(pack, tests, seen, now), fade(tests))


def fade(tests):
    """Whether the newest complete test shows less than the oldest, beyond what their meters may be off; a sentence."""
    complete = [row.log for row in tests if row.log.is_complete]
    if len(complete) < 2:
        return ""
    new, old = complete[0], complete[-1]
    change, error = new.ah / old.ah - 1, math.hypot(METER_ERROR, METER_ERROR)
    since = f"since {old.started_at:%Y-%m-%d}"
    if abs(change) <= error:
        return f"No change {since} that is beyond the meters’ errors, {Numeral(100 * error):.1f} % for two tests."
    word = "less" if change < 0 else "more"
    return (
        f"{Numeral(100 * abs(change)):.1f} % {word} {since}, give or take {Numeral(100 * error):.1f} % by the meters "
        "alone; another load, another temperature or a start that was not full changes it, too."
    )


def health_picture(tests):
    """Measured against rated capacity over the days, of the complete tests."""
    points = [
        [row.log.started_at.isoformat(), round(row.share_pct, 2)] for row in reversed(tests)
        if row.share_pct is not None and row.log.is_complete
    ]
    if len(points) < 2:
        return None
    return Picture("traces", "Measured capacity over the days, as a share of the rated one", {
        "x": "day", "utc": True, "panels": [
            {"unit": "%", "rules": [{"y": 100, "label": "as rated"}], "lines": [{"label": "", "points": points}]},
        ],
    })


def due(pack, tests, seen, now):
    """What should be measured again: common practice, no source."""
    if pack.retired_on:
        return ()
    found = []
    complete = [row.log for row in tests if row.log.is_complete]
    tested = complete[0].started_at.date() if complete else pack.measured_on
    if tested is None:
        found.append("A capacity test: none was made yet.")
    elif now.date() - tested > datetime.timedelta(days=TEST_DUE_DAYS):
        found.append(f"A capacity test: the last one was {(now.date() - tested).days} days ago.")
    if seen is None:
        found.append("A voltage: none was read yet.")
    elif now - seen > datetime.timedelta(days=CHECK_DUE_DAYS):
        found.append(f"A voltage, and a charge if it is low: nothing was read or charged for {(now - seen).days} days.")
    if pack.resistance_ohm is None:
        found.append("The internal resistance: any log with a change of load shows it.")
    return tuple(found)


@dataclass(frozen=True)
class SinceFull:
    """Ampere-hours out of a pack since it was last charged full, as far as its own logs know."""

    full_at: datetime.datetime
    used_ah: float
    logs: int


def since_full(pack):
    """What left the pack since its last full charge, by its logs; None where no full charge is known."""
    logs = list(pack.logs.without_file())
    full = next((log for log in logs if log.kind == PackLog.Kind.CHARGE and log.is_complete), None)
    if full is None:
        return None
    end = full.started_at + datetime.timedelta(seconds=full.duration_s)
    later = [log for log in logs if log.started_at >= end]
    used = sum(log.ah if log.kind == PackLog.Kind.TEST else -log.ah for log in later)
    return SinceFull(end, max(0.0, used), len(later))
