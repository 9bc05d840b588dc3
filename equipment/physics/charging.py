"""Charging a pack at constant current, then constant voltage: how long, and how far the first phase goes."""

import math
from dataclasses import dataclass

SEGMENTS = 2000


@dataclass(frozen=True)
class ChargeTime:
    """Hours of both phases, and the state of charge (0 to 1) at which the first ends and the second."""

    constant_current_h: float
    constant_voltage_h: float
    charge_at_limit: float
    end_charge: float
    reaches_end_current: bool

    @property
    def total_h(self):
        return self.constant_current_h + self.constant_voltage_h


def charge_time(open_v, ah, ohm, amps, limit_v, start_charge, end_a, segments=SEGMENTS):
    """Time to charge a pack whose resting voltage is open_v(s) plus one series resistance.

    open_v: function of the state of charge (0 to 1) giving pack volts, rising; ah: capacity; ohm: pack, leads and
    connectors together; amps and limit_v: the charger's current and voltage limits; start_charge 0 to 1; end_a: current
    at which the charger stops. Each of `segments` pieces of the curve is a straight line, on which the second phase is
    exact: I falls exponentially with tau = R Q / S, S the slope. Ends at full charge if the current is still above
    end_a there (`reaches_end_current` False). ValueError for values out of range.

    Balancing by the protection board adds a time that cannot be known. Circuit theory; no temperature, no ageing.
    """
    if min(ah, ohm, amps, limit_v, end_a) <= 0:
        raise ValueError("capacity, resistance, currents and voltage must be positive")
    if not 0 <= start_charge <= 1:
        raise ValueError("the state of charge must lie between 0 and 1")
    if end_a >= amps:
        raise ValueError("the charger's end current must be below its charging current")
    cc_h = cv_h = 0.0
    limit_at = None
    s0 = start_charge
    step = 1.0 / segments
    reached = False
    while s0 < 1 - 1e-12 and not reached:
        s1 = min(1.0, (math.floor(s0 / step + 1e-9) + 1) * step)
        e0, e1 = open_v(s0), open_v(s1)
        slope = (e1 - e0) / (s1 - s0)
        if limit_at is None:
            # constant current until E + I R meets the limit
            if e0 + amps * ohm >= limit_v:
                limit_at = s0
            elif e1 + amps * ohm < limit_v or slope <= 0:
                cc_h += (s1 - s0) * ah / amps
                s0 = s1
                continue
            else:
                limit_at = s0 + (limit_v - amps * ohm - e0) / slope
                cc_h += (limit_at - s0) * ah / amps
                s0, e0 = limit_at, limit_v - amps * ohm
        i0, i1 = (limit_v - e0) / ohm, (limit_v - e1) / ohm
        if i0 <= end_a:
            reached = True
            break
        if i1 <= end_a:
            reached = True
            s1 = s0 + (s1 - s0) * (i0 - end_a) / (i0 - i1)
            i1 = end_a
        if slope > 0:
            cv_h += ohm * ah / slope * math.log(i0 / i1)
        else:
            cv_h += (s1 - s0) * ah / i0
        s0 = s1
    return ChargeTime(cc_h, cv_h, 1.0 if limit_at is None else limit_at, s0, reached)


def straight_line_time(empty_v, span_v, ah, ohm, amps, limit_v, start_charge, end_a):
    """Time to charge a pack whose resting voltage is the straight line empty_v + span_v s, not stopped at s = 1.

    Returns (constant-current hours, constant-voltage hours, time constant hours): the second phase is exponential with
    tau = R Q/S and lasts tau ln(I/I_end). Closed form. ValueError unless all are positive and end_a < amps.
    """
    if min(span_v, ah, ohm, amps, limit_v, end_a) <= 0 or end_a >= amps:
        raise ValueError("values must be positive and the end current below the charging current")
    limit_at = (limit_v - amps * ohm - empty_v) / span_v
    tau = ohm * ah / span_v
    if limit_at >= start_charge:
        return (limit_at - start_charge) * ah / amps, tau * math.log(amps / end_a), tau
    first_a = (limit_v - empty_v - span_v * start_charge) / ohm
    return 0.0, max(0.0, tau * math.log(first_a / end_a)) if first_a > 0 else 0.0, tau
