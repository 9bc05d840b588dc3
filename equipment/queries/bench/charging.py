"""How long does a pack charge: constant current, then constant voltage; limits of pack and cold."""

from equipment.numerals import Numeral
from equipment.physics import battery, cell_curves, charging
from equipment.templatetags.bench import quantity, spread

from .answers import Answer, Figure, Picture, Table, refused
from .cautions import CHARGING

# Highest charging voltage of a cell. Common practice, no source; what the maker states comes first.
HIGHEST_CELL_V = {"LiFePO4": 3.65, "Li-ion": 4.20, "lead-acid": 2.45}
VOLT_ERROR = 1.01  # chargers and meters differ by so much
LITHIUM = ("LiFePO4", "Li-ion")
HOTTEST_C = 45.0  # for charging; typical data sheets, from memory
ENDS_AT = 1 / 20  # of the capacity an hour; common practice, no source


def charging_answers(
    *, chemistry, cells, ah, ohm, charger_a, charger_v, start_pct=None, volts=None, end_a=None, max_a=None, max_v=None,
    temperature_c=None, ah_error=0.05,
):
    """Time left, or why it must not be charged like this."""
    against = objections(chemistry, cells, charger_a, charger_v, max_a, max_v, temperature_c)
    if against:
        return (Answer(
            sentence=f"Do not charge it like this: {against[0][0].lower()}{against[0][1:]}", mark="bad", word="no",
            reasons=tuple(against[1:]), cautions=(CHARGING,),
            sources=("Limits of the pack as noted; cell limits where none are noted: common practice, no source. "
                     "Cold and heat: typical data sheets, from memory.",),
        ),)
    start = start_range(chemistry, cells, start_pct, volts)
    if chemistry not in LITHIUM:
        return (at_least(chemistry, ah, charger_a, start, ah_error),)
    return (time_left(chemistry, cells, ah, ohm, charger_a, charger_v, start, end_a or ah * ENDS_AT, ah_error,
                      temperature_c),)


def objections(chemistry, cells, charger_a, charger_v, max_a, max_v, temperature_c):
    """What forbids it, as sentences."""
    found = []
    highest = max_v or (HIGHEST_CELL_V[chemistry] * cells if chemistry in HIGHEST_CELL_V else None)
    if highest and charger_v > highest * VOLT_ERROR:
        found.append(f"{quantity(charger_v, 'voltage', digits=4)} is above its limit of "
                     f"{quantity(highest, 'voltage', digits=4)}.")
    if max_a and charger_a > max_a:
        found.append(f"{quantity(charger_a, 'current')} is above its charge limit of {quantity(max_a, 'current')}.")
    if temperature_c is not None and chemistry in LITHIUM and temperature_c < 0:
        found.append("Lithium packs must not be charged below 0 °C: warm it up first.")
    if temperature_c is not None and temperature_c > HOTTEST_C:
        found.append(f"Above {HOTTEST_C:.0f} °C packs are not charged: let it cool first.")
    return found


def start_range(chemistry, cells, start_pct, volts):
    """How full it is at the start, 0 to 1, as (low, middle, high). ValueError where neither is known."""
    if start_pct is not None:
        return (start_pct / 100,) * 3
    if volts is None:
        raise ValueError("how full it is must be known: in per cent, or by its resting voltage")
    told = battery.state_of_charge(chemistry, cells, volts)
    return told.low_pct / 100, told.middle_pct / 100, told.high_pct / 100


def time_left(chemistry, cells, ah, ohm, charger_a, charger_v, start, end_a, ah_error, temperature_c):
    """Both phases along the resting curve."""
    if end_a >= charger_a:
        raise ValueError("the current at which the charger stops must be below its charging current")
    curve = cell_curves.pack_v(chemistry, cells)
    low, middle, high = (
        charging.charge_time(curve, ah * (1 + error), ohm, charger_a, charger_v, min(1.0, begin), end_a)
        for begin, error in ((start[2], -ah_error), (start[1], 0.0), (start[0], ah_error))
    )
    simple_h = (1 - start[1]) * ah / charger_a
    warm = temperature_c is not None and 0 <= temperature_c < 10
    reasons = [
        f"{quantity(middle.constant_current_h, 'duration')} at full current, then "
        f"{quantity(middle.constant_voltage_h, 'duration')} with falling current. Missing ampere-hours over amperes "
        f"alone: {quantity(simple_h, 'duration')}.",
    ]
    if warm:
        reasons.append("Below 10 °C many makers ask for a smaller current: look at the data sheet.")
    if middle.end_charge < 0.95:
        reasons.append(
            f"With this charger it ends at about {100 * middle.end_charge:.0f} %: its voltage is too low for more."
        )
    return Answer(
        sentence=f"About {spread(low.total_h, high.total_h, 'duration')} until the current falls to "
        f"{quantity(end_a, 'current')}.",
        mark="warn" if warm else "", word="cold" if warm else "", reasons=tuple(reasons),
        figures=(
            Figure("Time left", middle.total_h, "duration", low.total_h, high.total_h),
            Figure("To go in", (middle.end_charge - start[1]) * ah, "charge"),
            Figure("At full current until", 100 * middle.charge_at_limit, "percent"),
        ),
        pictures=(course(curve, ah, ohm, charger_a, charger_v, start[1], end_a),),
        tables=(steps(curve, ah, ohm, charger_a, charger_v, start[1], end_a),),
        sources=(
            "Resting curve plus one series resistance; on each piece of the curve the second phase is exact "
            "(I falls with tau = R Q / S): circuit theory.",
        ),
        doubts=(
            "The protection board balances at the end: a time that cannot be known comes on top.",
            "Leads count to the resistance: with thin ones the charger reaches its voltage early and takes far longer.",
            "No temperature, no ageing; an old pack takes less and gets warm.",
        ),
        cautions=(CHARGING,),
    )


def stretches(curve, ah, ohm, charger_a, charger_v, start, end_a, count=40):
    """(hours, share, volts, amperes) on the way to full, by the model."""
    found, hours = [], 0.0
    for step in range(count + 1):
        share = start + (1 - start) * step / count
        amps = min(charger_a, max(0.0, (charger_v - curve(share)) / ohm))
        if found:
            mean = (amps + found[-1][3]) / 2
            if mean <= 0:
                break
            hours += (share - found[-1][1]) * ah / mean
        found.append((hours, share, curve(share) + amps * ohm, amps))
        if amps <= end_a:
            break
    return found


def course(*of):
    found = stretches(*of)
    return Picture("traces", "Voltage at the pack and current over the hours of the charge, by the model", {
        "x": "hours", "panels": [
            {"unit": "V", "rules": [], "lines": [
                {"label": "voltage", "points": [[round(h, 4), round(v, 3)] for h, _, v, _ in found]}]},
            {"unit": "A", "from_zero": True, "rules": [], "lines": [
                {"label": "current", "points": [[round(h, 4), round(i, 3)] for h, _, _, i in found]}]},
        ],
    })


def steps(*of):
    found = stretches(*of)
    return Table("On the way, by the model", ("Hours", "Charge", "Voltage", "Current"), tuple(
        (f"{Numeral(h):.2f}", f"{100 * s:.0f} %", f"{Numeral(v):.2f} V", f"{Numeral(i):.2f} A")
        for h, s, v, i in found[:: max(1, len(found) // 8)]
    ))


def at_least(chemistry, ah, charger_a, start, ah_error):
    """Only a lower bound, for chemistries whose second phase no simple formula tells."""
    if chemistry not in ("lead-acid", "NiMH"):
        return refused(f"Nothing is known here of how a {chemistry} pack charges", cautions=(CHARGING,))
    low = (1 - start[2]) * ah * (1 - ah_error) / charger_a
    why = (
        "A lead-acid battery takes the last fifth slowly, at constant voltage: hours more, and no simple formula tells."
        if chemistry == "lead-acid" else
        "NiMH takes more than comes out again, and its charger stops by voltage or warmth, not by a voltage limit."
    )
    return Answer(
        sentence=f"At least {quantity(low, 'duration')}, and surely longer.", reasons=(why,),
        figures=(Figure("At least", low, "duration"),), sources=("Missing ampere-hours over amperes: definition.",),
        doubts=("A lower bound, not an estimate.",), cautions=(CHARGING,),
    )
