"""Which gear works: the measures that it is judged by, and the judgement of an operator's stints by one of them."""

from . import contact_rates, receptions, spent, valued
from .judging import Asked, Measure

HOLDS = "holds the truth with 95 % confidence: one that crosses"
NOT_TOLD = "says that the data cannot tell the two apart."
BEYOND_KM = 1500.0  # where the operator names no other distance

MEASURES = {
    "rate": Measure(
        word="contacts per hour", unit="per hour", against="times the reference", neutral=1.0,
        read="The dot is the best estimate, the bar holds the truth with 95 % confidence: a bar that crosses 1 says "
             "that the data cannot tell the two apart. The hollow dot is the raw ratio.",
        judge=contact_rates.judged,
    ),
    "distance": Measure(
        word="distance", unit="km", against="km farther than the reference", neutral=0.0,
        read=f"The dot says how much farther, the bar {HOLDS} 0 {NOT_TOLD} The hollow dot is the raw difference of "
             "the medians.",
        judge=valued.distances, behind="position=known",
    ),
    "upper_tenth": Measure(
        word="upper tenth or quarter of the distances", unit="km", against="km farther than the reference", neutral=0.0,
        read="The dot says how much farther the farthest tenth begins (the farthest quarter where contacts are too few "
             f"for a tenth, as is said then), the bar {HOLDS} 0 {NOT_TOLD}",
        judge=valued.upper_tenth, behind="position=known",
    ),
    "beyond": Measure(
        word="share beyond a distance", unit="%", against="points more than the reference", neutral=0.0,
        read=f"The dot says by how many points in a hundred the share is larger, the bar {HOLDS} 0 {NOT_TOLD}",
        judge=valued.beyond, behind="position=known",
    ),
    "received": Measure(
        word="reports received", unit="dB", against="dB stronger than the reference", neutral=0.0,
        read=f"The dot says how much stronger this station was heard, the bar {HOLDS} 0 {NOT_TOLD}",
        judge=valued.reports_received, behind=None,
    ),
    "sent": Measure(
        word="reports sent", unit="dB", against="dB stronger than the reference", neutral=0.0,
        read=f"The dot says how much stronger the others were heard, the bar {HOLDS} 0 {NOT_TOLD}",
        judge=valued.reports_sent, behind=None,
    ),
    "heard": Measure(
        word="reports of receivers", unit="dB", against="dB stronger than the reference", neutral=0.0,
        read=f"The dot says how much stronger the same receivers heard it within minutes, the bar {HOLDS} 0 {NOT_TOLD}",
        judge=receptions.judged, counts="reports", behind=None,
    ),
    "energy": Measure(
        word="contacts per watt-hour", unit="per Wh", against="times the reference", neutral=1.0,
        read=f"The dot is the best estimate, the bar {HOLDS} 1 {NOT_TOLD}", judge=spent.energy,
    ),
    "weight": Measure(
        word="contacts per hour and weight", unit="per hour and kg", against="times the reference", neutral=1.0,
        read=f"The dot is the best estimate, the bar {HOLDS} 1 {NOT_TOLD}", judge=spent.weight,
    ),
    "setup": Measure(
        word="contacts per minute with set-up", unit="per minute", against="times the reference", neutral=1.0,
        read=f"The dot is the best estimate, the bar {HOLDS} 1 {NOT_TOLD}", judge=spent.setup,
    ),
}


def judged(operator, stints, by="arrangement", measure="rate", more=(), now=None, beyond_km=BEYOND_KM):
    """The judgement of an operator's stints: a `judging.Judged`.

    Parameters: `stints`, a QuerySet after all filters; `by`, a key of `observing.WAYS`; `measure`, a key of MEASURES;
    `more`, keys of `observing.HOLDABLE` that are held fixed, too; `now`, up to when stints that are running count;
    `beyond_km`, of the share beyond a distance.
    """
    return MEASURES[measure].judge(Asked(operator, stints, by, tuple(more), now, beyond_km))
