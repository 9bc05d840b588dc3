"""How full is a pack: a range from its resting voltage, and a better one from the ampere-hours since it was full."""

from dataclasses import replace

from equipment.numerals import Numeral
from equipment.physics import battery
from equipment.templatetags.bench import quantity, spread

from .answers import Answer, Figure, refused
from .cautions import EMPTY

COUNT_ERROR = 0.05  # of ampere-hours and capacity together, where the capacity was measured; common practice, no source
RATED_ERROR = 0.20  # where the capacity is only what stands on the label; common practice, no source
CURVES = {
    "LiFePO4": "LiFePO4: equilibrium curve after S. Afshar et al., arXiv:1709.03970 (2017) and C.-H. Chen et al., "
    "J. Electrochem. Soc. 167 (2020) 080534, and the customary trade table (common practice, no source); the wider of "
    "the two.",
    "Li-ion": "NMC: equilibrium curve after C.-H. Chen et al., J. Electrochem. Soc. 167 (2020) 080534, ± 10 points, "
    "since published cells of the family differ by up to 14.",
    "lead-acid": "AGM: a vehicle maker’s owner manual, ± 10 points; 11.8 V for empty is common practice.",
}
CONTRADICTION = (
    "Voltage and count contradict each other: the pack was not full when the count began, has not rested, or has lost "
    "capacity."
)


def charge_state_answers(
    *, chemistry, cells, volts=None, meter_v=None, temperature_c=None, rested_h=None, ah=None, used_ah=None,
    count_error=COUNT_ERROR,
):
    """By voltage, by counting, or by both; at least one of volts and used_ah with ah is needed."""
    counted = by_count(chemistry, ah, used_ah, count_error) if ah is not None and used_ah is not None else None
    told = by_voltage(chemistry, cells, volts, meter_v, temperature_c, rested_h) if volts is not None else None
    if counted and told and not told.is_refused:
        low, high = told.figures[0].low, told.figures[0].high
        count = counted.figures[0]
        if count.high < low or count.low > high:
            told = replace(told, reasons=(*told.reasons, CONTRADICTION))
    return tuple(answer for answer in (counted, told) if answer)


def by_voltage(chemistry, cells, volts, meter_v, temperature_c, rested_h):
    """A range from the resting voltage; what speaks against it stands beside it."""
    title = "By its resting voltage"
    half = None if meter_v is None else meter_v + (0.01 * cells if chemistry in ("LiFePO4", "Li-ion") else 0.0)
    try:
        found = battery.state_of_charge(chemistry, cells, volts, half, temperature_c, rested_h)
    except ValueError as error:
        return refused(error, title=title, doubts=(
            "Count ampere-hours from the last full charge for anything better.",
        ))
    low, high = found.low_pct, found.high_pct
    figure = Figure("State of charge", found.middle_pct, "percent", low, high)
    return Answer(
        title=title, sentence=f"{spoken(low, high)}: {spread(low, high, 'percent')} by a resting voltage of "
        f"{quantity(volts, 'voltage', digits=4)}.",
        mark="warn" if found.warnings else "", word="with care" if found.warnings else "",
        reasons=found.warnings, figures=(figure,), sources=(CURVES[chemistry],),
        doubts=doubts_of_voltage(chemistry), cautions=(EMPTY,) if low < 20 else (),
    )


def doubts_of_voltage(chemistry):
    found = [
        "The pack must have rested without load: two hours for lithium, eight for lead-acid, better a night.",
        "Tables are for 20 to 25 °C.",
    ]
    if chemistry == "LiFePO4":
        found.insert(0, (
            f"Between about {Numeral(13.0)} and {Numeral(13.3)} V (four cells) the voltage hardly moves: two published "
            "curves disagree by thirty points there. A hand meter is good to 10 to 30 mV, and the curve after charging "
            "lies 10 to 40 mV a cell above that after discharging."
        ))
    return tuple(found)


def spoken(low, high):
    """A range in words: half to nearly full."""
    steps = (
        (5, "empty"), (20, "nearly empty"), (30, "a quarter"), (42, "a third"), (58, "half"), (72, "two thirds"),
        (84, "three quarters"), (96, "nearly full"), (101, "full"),
    )
    first, last = (next(word for top, word in steps if end < top) for end in (low, high))
    return f"About {first}" if first == last else f"From {first} to {last}"


def by_count(chemistry, ah, used_ah, error):
    """A range from the ampere-hours that left it since it was full."""
    low, middle, high = battery.charge_after(ah, used_ah, error)
    left_low, left_high = (max(0.0, ah * (1 + off) - used_ah) for off in (-error, error))
    beyond = used_ah > ah
    return Answer(
        title="By counting since it was full",
        sentence=f"{spoken(low, high)}: {quantity(used_ah, 'charge')} of {quantity(ah, 'charge')} are out, "
        f"{spread(left_low, left_high, 'charge')} are left." if not beyond else
        f"More was taken out, {quantity(used_ah, 'charge')}, than it holds, {quantity(ah, 'charge')}: the count or the "
        "capacity is wrong.",
        mark="warn" if beyond else "", word="look again" if beyond else "",
        figures=(
            Figure("State of charge", middle, "percent", low, high),
            Figure("Left", max(0.0, ah - used_ah), "charge", left_low, left_high),
        ),
        sources=("Definition: 1 − used / capacity.",),
        doubts=(
            f"Count and capacity together are taken as good to {100 * error:.0f} % of what was used.",
            "The count must begin at a full charge: charger finished, current below a twentieth of the capacity.",
            "In the cold, or at high current, less comes out than was counted on.",
        ),
        cautions=(EMPTY,) if low < 20 else (),
    )
