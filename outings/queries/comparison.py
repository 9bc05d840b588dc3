"""Which gear works: the measures that it is judged by, and the judgement of an operator's stints by one of them."""

from . import contact_rates
from .judging import Asked, Measure

MEASURES = {
    "rate": Measure(
        word="contacts per hour", unit="per hour", against="times the reference", neutral=1.0,
        read="The dot is the best estimate, the bar holds the truth with 95 % confidence: a bar that crosses 1 says "
             "that the data cannot tell the two apart. The hollow dot is the raw ratio.",
        judge=contact_rates.judged,
    ),
}


def judged(operator, stints, by="arrangement", measure="rate", more=(), now=None):
    """The judgement of an operator's stints: a `judging.Judged`.

    Parameters: `stints`, a QuerySet after all filters; `by`, a key of `observing.WAYS`; `measure`, a key of MEASURES;
    `more`, keys of `observing.HOLDABLE` that are held fixed, too; `now`, up to when stints that are running count.
    """
    return MEASURES[measure].judge(Asked(operator, stints, by, tuple(more), now))
