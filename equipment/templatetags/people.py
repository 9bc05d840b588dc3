"""How far people stay away, as texts: rounded up, so that what is printed is never nearer than what was reckoned."""

import math
from urllib.parse import urlencode

from django import template

from equipment.physics import exposure
from equipment.queries.exposure import EDITIONS, EVALUATION, WORDING
from equipment.units import FOOT_M, IMPERIAL, METRIC, length_from_m

from .units import NBSP, number, power

register = template.Library()


def up(length_m, units=METRIC):
    """A length rounded up to a tenth of a metre or half a foot, m."""
    step = 0.5 * FOOT_M if units == IMPERIAL else 0.1
    return math.ceil(round(length_m / step, 6)) * step


@register.filter
def stay_beyond(length_m, units=METRIC):
    """A distance to keep, rounded up."""
    unit = "ft" if units == IMPERIAL else "m"
    return f"{number(length_from_m(up(length_m, units), units), 1)}{NBSP}{unit}"


@register.filter
def formula(reach, units=METRIC):
    """The figure of the far-field formula for a Reach, or that it is refused."""
    if reach.formula_m is None:
        return "refused"
    return stay_beyond(reach.formula_m, units) + (" (near field)" if reach.inside_near_field else "")


@register.filter
def on_the_bench(kit_reach):
    """The query that asks the bench for the same, to be changed there."""
    bands = [("bands", one.band) for one in kit_reach.bands]
    watts = [] if kit_reach.watts is None else [("watts", f"{kit_reach.watts:g}")]
    return urlencode([*watts, *bands])


@register.filter
def reach_notes(kit_reach):
    """What belongs to the figures of a KitReach wherever they stand: assumptions, refusals, rules, what to do."""
    refused = [one.band for one in kit_reach.bands if one.public.formula_m is None]
    flagged = [one.band for one in kit_reach.bands if one.public.inside_near_field and one.band not in refused]
    notes = [
        f"Reckoned with {power(kit_reach.watts)}, the highest setting of {kit_reach.radio}, as a carrier all the time, "
        "without loss on the way, and with the largest gain that a straight antenna of each length can have."
    ]
    if refused:
        notes.append(
            f"{', '.join(refused)}: the formula’s figure is refused. It would lie inside the near field of a short "
            "antenna, where it is not on the safe side: keep people well beyond the edge of the near field, given here."
        )
    if flagged:
        notes.append(
            f"{', '.join(flagged)}: the formula’s figure lies inside the near field, where it does not hold; the edge "
            "of the near field is given."
        )
    notes += [f"{band}: not reckoned; {reason}." for band, reason in kit_reach.left_out]
    return [*notes, f"{EDITIONS[exposure.STRICTER]} {WORDING} {EVALUATION}"]


@register.filter
def why_not_reckoned(kit_reach):
    """Why a KitReach has no band at all."""
    reasons = kit_reach.why_not or "; ".join(f"{band}: {reason}" for band, reason in kit_reach.left_out)
    return f"Not reckoned: {reasons}."
