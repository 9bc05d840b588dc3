"""Gear judged by contacts for what was spent: watt-hours, kilograms carried, minutes with set-up."""

from collections import defaultdict
from dataclasses import replace
from functools import partial

from equipment import units
from equipment.models import PowerSetting
from outings.adif import tables
from outings.evidence import comparison, gains

from .judging import Judged, Line
from .remembering import remembered

WEIGHED = {  # of what is compared: the column of its weight
    "arrangement": "arrangement__antenna__weight_kg", "antenna": "arrangement__antenna__weight_kg",
    "radio": "radio__weight_kg", "pack": "pack__weight_kg",
}


def energy(asked):
    """Judged by contacts per watt-hour that the radio drew."""
    why_not = "the radio’s currents at that power, or the pack’s voltage, are not noted"
    return judged(asked, "energy", energies(asked), why_not)


def weight(asked):
    """Judged by contacts per hour and kilogram of what is compared."""
    column = WEIGHED.get(asked.by)
    if column is None:
        return Judged("alone", "Weights are compared of antennas, radios and packs: choose one of these.", ())
    rows = asked.stints.of(asked.operator).order_by().values_list("pk", column)
    known = {pk: units.weight_from_kg(kg, asked.operator.units) for pk, kg in rows if kg}
    found = judged(asked, "weight", {pk: partial(gains.weight_h, kg=kg) for pk, kg in known.items()},
                   "its weight is not noted")
    return replace(found, unit=f"per hour and {units.WEIGHT_NAMES[asked.operator.units]}")


def setup(asked):
    """Judged by contacts per minute with set-up and take-down counted in."""
    return judged(asked, "setup", setups(asked), "no minutes of set-up are noted at that outing")


def judged(asked, gain, amounts, why_not):
    """The judgement by contacts per unit spent. amounts: {stint: function of hours on the air to what was spent}."""
    seen = asked.seen
    observations = [
        comparison.Observation(
            seen.groups[one.key].label, one.contacts, amounts[one.stint](one.on_air_s / 3600), one.block,
            f"{one.stint}", one.pair,
        ) for one in seen.pieces if one.stint in amounts
    ]
    left_out = {"unnoted": seen.unnoted, "timeless": seen.timeless, "also": seen.also}
    without = len({one.stint for one in seen.pieces} - amounts.keys())
    remarks = (f"{without} stint{'s do' if without != 1 else ' does'} not count: {why_not}",) if without else ()
    groups = {group.label: group for group in seen.groups.values()}
    if not seen.groups:
        return Judged("empty", "There is no time on the air to judge by.", (), **left_out)
    try:
        found = remembered(gains.compare_gains, observations, gain, also_held=seen.also_held)
    except comparison.NothingToCompare:
        lines = tuple(bare(group, why_not if group.label not in {one.arrangement for one in observations} else "")
                      for group in groups.values())
        return Judged("alone", "There are not two of which it is known what was spent.", (NOTE[gain],), lines,
                      remarks=remarks, **left_out)
    reference = next(row for row in found.arrangements if row.arrangement == found.reference)
    lines = tuple(line(groups[row.arrangement], row, reference, found) for row in found.arrangements)
    known = {row.arrangement for row in found.arrangements}
    lines += tuple(bare(group, why_not) for label, group in groups.items() if label not in known)
    told = [one for one in lines if one.is_told]
    state = "apart" if len(told) < 2 else "told" if any(one.claimed for one in lines) else "open"
    return Judged(state, found.verdict, (), lines, found.reference, found.held_fixed, (*remarks, *found.remarks),
                  found.dispersion, found.confidence, **left_out)


NOTE = {
    "energy": "Note the radio’s currents at each power on its page, and the nominal voltage of the pack.",
    "weight": "Note the weights on the pages of the gear.",
    "setup": "Note minutes of set-up and take-down with the stint after each.",
}


def bare(group, reason):
    """A line without figures."""
    return Line(
        group.key, group.label, group.stints, group.running, group.inferred, group.inferred_h, group.on_air_h,
        group.contacts, None, None, None, None, None, None, None, reason=reason,
    )


def line(group, row, reference, found):
    """A line of the table from a row of a comparison."""
    is_reference = row.arrangement == found.reference
    raw = row.rate_per_h / reference.rate_per_h if reference.rate_per_h else None
    return Line(
        group.key, group.label, group.stints, group.running, group.inferred, group.inferred_h, group.on_air_h,
        row.contacts, row.rate_per_h, row.low, row.high, raw, row.ratio, row.ratio_low, row.ratio_high, is_reference,
        claimed=not is_reference and row.p_holm is not None and row.p_holm < 1 - found.confidence,
        chance_best=row.chance_best, reason=row.reason,
        why="" if is_reference or row.ratio is None else "Raw has where and when it was used in it; adjusted has not.",
    )


def energies(asked):
    """{stint: watt-hours for hours on the air} where radio, power and pack say what is drawn."""
    settings = defaultdict(list)
    for radio, output_w, transmit_a in PowerSetting.objects.filter(radio__owner=asked.operator).values_list(
        "radio_id", "output_w", "transmit_a"
    ):
        if transmit_a:
            settings[radio].append((output_w, transmit_a))
    found = {}
    rows = asked.stints.of(asked.operator).order_by().values_list(
        "pk", "radio_id", "radio__receive_a", "power_w", "pack__nominal_v", "mode", "submode", "calling"
    )
    for pk, radio, receive_a, power_w, volts, mode, submode, calling in rows:
        transmit_a = current_at(settings.get(radio, ()), power_w)
        if transmit_a and receive_a is not None and volts:
            keyed = gains.keying(submode if submode == "FT4" else mode, tables.mode_family(mode, submode))
            found[pk] = partial(
                gains.energy_wh, volts=volts, receive_a=receive_a, transmit_a=transmit_a, keyed=keyed, calling=calling
            )
    return found


def current_at(settings, power_w):
    """The current measured at the setting nearest to a power, within a quarter of it; None without one."""
    near = [(abs(output_w - power_w), amps) for output_w, amps in settings if power_w] if power_w else []
    if not near:
        return None
    away, amps = min(near)
    return amps if away <= 0.25 * power_w else None


def setups(asked):
    """{stint: minutes with its share of set-up and take-down}, where the outing has minutes noted with what is used."""
    rows = list(asked.stints.of(asked.operator).order_by().values_list(
        "pk", "outing_id", "arrangement_id", "on_air_s", "setup_min", "takedown_min"
    ))
    minutes, on_air, noted = defaultdict(float), defaultdict(float), set()
    for _, outing, arrangement, on_air_s, setup_min, takedown_min in rows:
        key = (outing, arrangement)
        on_air[key] += (on_air_s or 0) / 3600
        minutes[key] += (setup_min or 0) + (takedown_min or 0)
        if setup_min is not None or takedown_min is not None:
            noted.add(key)
    return {
        pk: (lambda hours, m=minutes[outing, arrangement], all_h=on_air[outing, arrangement]: gains.with_setup_min(
            hours, m, hours / all_h if all_h else 1.0
        ))
        for pk, outing, arrangement, *_ in rows if (outing, arrangement) in noted
    }
