"""Two packs in parallel: may they be joined, what flows, how it decays, and how a charger's current is shared."""

import math
from dataclasses import dataclass

from equipment.numerals import Numeral

# Four-cell iron-phosphate packs that differ by less may be joined, once each was charged full. Common practice, no
# source.
RULE_OF_THUMB_V_A_CELL = 0.1 / 4


@dataclass(frozen=True)
class Joined:
    """What happens between two packs that behave like large capacitors."""

    first_a: float
    tau_h: float
    moved_ah: float
    final_v: float

    def current_a(self, hours):
        """Current after a time, A: I0 exp(-t/tau)."""
        return self.first_a * math.exp(-hours / self.tau_h)


def first_current_a(v1, v2, r1, r2, r_leads):
    """Current at the moment of joining, A, positive from pack 1 into pack 2: (V1 - V2)/(R1 + R2 + R_leads)."""
    loop = r1 + r2 + r_leads
    if min(r1, r2, r_leads) < 0 or loop <= 0:
        raise ValueError("resistances must not be negative, and their sum must be positive")
    return (v1 - v2) / loop


def joined(v1, v2, r1, r2, r_leads, ah_per_volt_1, ah_per_volt_2):
    """Join two packs whose resting voltage rises by one volt per so many ampere-hours.

    tau = R c1 c2/(c1 + c2); charge moved (V1 - V2) c1 c2/(c1 + c2). Closed form; near enough for small differences,
    see `over_time` for the curve of a real chemistry. ValueError for values that are not positive.
    """
    if min(ah_per_volt_1, ah_per_volt_2) <= 0:
        raise ValueError("ampere-hours per volt must be positive")
    first = first_current_a(v1, v2, r1, r2, r_leads)
    series = ah_per_volt_1 * ah_per_volt_2 / (ah_per_volt_1 + ah_per_volt_2)
    final = (v1 * ah_per_volt_1 + v2 * ah_per_volt_2) / (ah_per_volt_1 + ah_per_volt_2)
    return Joined(first, (r1 + r2 + r_leads) * series, (v1 - v2) * series, final)


@dataclass(frozen=True)
class Shared:
    """How a charger's current splits: into pack 1, into pack 2, and their terminal voltages."""

    i1: float
    i2: float
    v1: float
    v2: float


def charger_share(e1, e2, r1, r2, r_leads, charger_a):
    """Split of a charger's current; the charger sits on pack 1, pack 2 hangs on it through the leads.

    I2 = (E1 - E2 + I R1)/(R1 + R2 + RL), I1 = I - I2; negative I1 means that pack 1 still feeds pack 2. Kirchhoff.
    """
    loop = r1 + r2 + r_leads
    if min(r1, r2, r_leads) < 0 or loop <= 0:
        raise ValueError("resistances must not be negative, and their sum must be positive")
    i2 = (e1 - e2 + charger_a * r1) / loop
    i1 = charger_a - i2
    return Shared(i1, i2, e1 + i1 * r1, e2 + i2 * r2)


def resistances_from_readings(v1, v2, first_a, charger_a, i2, v2_terminal):
    """Turn readings round: loop resistance, and R1, R2 and lead resistance, ohm, from one joining and one charge.

    v1, v2: resting voltages before joining; first_a: first current; charger_a in all, i2 of it into pack 2 whose
    terminals then stand at v2_terminal. Three equations, three unknowns: no residual is left, so this is no proof.
    ValueError where the readings contradict each other (a resistance comes out negative).
    """
    if min(first_a, charger_a, i2) <= 0:
        raise ValueError("currents must be positive")
    loop = (v1 - v2) / first_a
    r2 = (v2_terminal - v2) / i2
    r1 = (i2 * loop - (v1 - v2)) / charger_a
    leads = loop - r1 - r2
    if min(loop, r1, r2, leads) < 0:
        raise ValueError("these readings contradict each other: a resistance would be negative")
    return loop, r1, r2, leads


@dataclass(frozen=True)
class JoinedMoment:
    """State of two joined packs at one time; currents positive into the pack."""

    hours: float
    i1: float
    i2: float
    v1: float
    v2: float
    charge1: float
    charge2: float


def over_time(
    open_v1, open_v2, ah1, ah2, charge1, charge2, r1, r2, r_leads, hours, charger_a=0.0, limit_v=None, points=240,
    most_steps=None,
):
    """Follow two joined packs through time along their resting curves.

    open_v1, open_v2: functions of the state of charge (0 to 1) giving pack volts; ah1, ah2: capacities; charge1,
    charge2: states of charge at the start; charger_a on pack 1 up to limit_v at its terminals. Returns a tuple of
    `points` + 1 JoinedMoments, evenly spaced. Classical Runge-Kutta of order four with a step well below the fastest
    time constant; checked against scipy's integrator. ValueError for values out of range, or where more than
    `most_steps` would be needed: the resistances are too small for these capacities.
    """
    if min(ah1, ah2, hours) <= 0 or points < 1:
        raise ValueError("capacities, hours and points must be positive")
    if not (0 <= charge1 <= 1 and 0 <= charge2 <= 1):
        raise ValueError("states of charge must lie between 0 and 1")
    if charger_a and limit_v is None:
        raise ValueError("a charger needs its voltage limit")

    def currents(s1, s2):
        e1, e2 = open_v1(min(1.0, max(0.0, s1))), open_v2(min(1.0, max(0.0, s2)))
        share = charger_share(e1, e2, r1, r2, r_leads, charger_a)
        if charger_a and share.v1 > limit_v:  # constant voltage on pack 1's terminals, never drawing back
            i1, i2 = (limit_v - e1) / r1 if r1 else 0.0, (limit_v - e2) / (r2 + r_leads)
            if i1 + i2 < 0:
                share = charger_share(e1, e2, r1, r2, r_leads, 0.0)
            else:
                share = Shared(i1, i2, limit_v, e2 + i2 * r2)
        return share

    def slopes(s1, s2):
        share = currents(s1, s2)
        return share.i1 / ah1, share.i2 / ah2

    moments, steps = [], 0
    s1, s2 = charge1, charge2
    interval = hours / points
    for index in range(points + 1):
        share = currents(s1, s2)
        moments.append(JoinedMoment(index * interval, share.i1, share.i2, share.v1, share.v2, s1, s2))
        if index == points:
            break
        done = 0.0
        while done < interval * (1 - 1e-12):
            step = min(interval - done, _stable_step_h(open_v1, open_v2, ah1, ah2, s1, s2, r1, r2, r_leads))
            k1 = slopes(s1, s2)
            k2 = slopes(s1 + k1[0] * step / 2, s2 + k1[1] * step / 2)
            k3 = slopes(s1 + k2[0] * step / 2, s2 + k2[1] * step / 2)
            k4 = slopes(s1 + k3[0] * step, s2 + k3[1] * step)
            s1 = min(1.0, max(0.0, s1 + step * (k1[0] + 2 * k2[0] + 2 * k3[0] + k4[0]) / 6))
            s2 = min(1.0, max(0.0, s2 + step * (k1[1] + 2 * k2[1] + 2 * k3[1] + k4[1]) / 6))
            done += step
            steps += 1
            if most_steps and steps > most_steps:
                raise ValueError("the currents change too quickly to be followed: the resistances are very small")
    return tuple(moments)


def _stable_step_h(open_v1, open_v2, ah1, ah2, s1, s2, r1, r2, r_leads):
    """A fifth of the fastest time constant at this point of the curves, h."""
    loop = max(r1 + r2 + r_leads, 1e-6)
    smallest = min(r for r in (r1, r2 + r_leads, loop) if r > 0)
    slope = max(_slope(open_v1, s1) / ah1, _slope(open_v2, s2) / ah2)
    return max(1e-5, 0.2 * smallest / slope) if slope > 0 else 1.0


def _slope(open_v, charge):
    low, high = max(0.0, charge - 1e-3), min(1.0, charge + 1e-3)
    return abs(open_v(high) - open_v(low)) / (high - low)


@dataclass(frozen=True)
class JoiningAdvice:
    """May these two packs be joined now: the answer, why not, what could not be checked, and the first current, A."""

    may_join: bool
    reasons: tuple[str, ...]
    unchecked: tuple[str, ...]
    first_a: float | None


def may_join(
    chemistry_1, chemistry_2, cells_1, cells_2, v1, v2, r1, r2, r_leads, charge_limit_1_a=None, charge_limit_2_a=None,
    discharge_limit_1_a=None, discharge_limit_2_a=None,
):
    """Judge whether two packs may be joined in parallel now.

    Refused: mixed chemistry, different cell count, a predicted first current above a stated limit of the pack that
    takes it or gives it, or a voltage difference above the rule of thumb (0.1 V for four cells). A limit that is not
    known is named in `unchecked`. Rules of caution: common practice, no source; the makers' data decide.
    """
    reasons = []
    if chemistry_1 != chemistry_2:
        reasons.append(f"Never join {chemistry_1} with {chemistry_2}: they end at different voltages.")
    if cells_1 != cells_2:
        reasons.append(f"Never join packs of {cells_1} and {cells_2} cells in series.")
    if reasons:
        return JoiningAdvice(False, tuple(reasons), (), None)
    first = first_current_a(v1, v2, r1, r2, r_leads)
    giver, taker = (1, 2) if first >= 0 else (2, 1)
    charge_limit = {1: charge_limit_1_a, 2: charge_limit_2_a}[taker]
    discharge_limit = {1: discharge_limit_1_a, 2: discharge_limit_2_a}[giver]
    size = abs(first)
    unchecked = []
    for limit, what, pack in ((charge_limit, "charge", taker), (discharge_limit, "discharge", giver)):
        if limit is None:
            unchecked.append(f"The {what} limit of pack {pack} is not known.")
        elif size > limit:
            reasons.append(
                f"The first current, {Numeral(size):.1f} A, is above the {what} limit of pack {pack}, "
                f"{Numeral(limit):g} A."
            )
    allowed = RULE_OF_THUMB_V_A_CELL * cells_1
    if abs(v1 - v2) > allowed:
        reasons.append(
            f"They differ by {Numeral(abs(v1 - v2)):.2f} V; the rule of thumb allows {Numeral(allowed):.2f} V. "
            "Charge each one full by itself first."
        )
    return JoiningAdvice(not reasons, tuple(reasons), tuple(unchecked), first)
