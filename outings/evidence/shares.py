"""Shares of outings or tries that succeeded, and what several comparisons at once do to p values."""

import math
from dataclasses import dataclass

from . import rates


@dataclass(frozen=True)
class Share:
    """A share with its exact (Clopper-Pearson) and its Wilson interval."""

    successes: int
    trials: int
    share: float
    exact_low: float
    exact_high: float
    wilson_low: float
    wilson_high: float


def share(successes, trials, confidence=0.95):
    """The share of tries that succeeded, with two intervals.

    Wilson: (p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n).
    Raises ValueError without tries or with more successes than tries.
    Source: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404; E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209.
    """
    from scipy.special import ndtri

    rates.check_confidence(confidence)
    if trials < 1 or not 0 <= successes <= trials:
        raise ValueError(f"{successes} of {trials} is no share.")
    p = successes / trials
    z = float(ndtri((1 + confidence) / 2))
    centre = p + z * z / (2 * trials)
    half = z * math.sqrt(p * (1 - p) / trials + z * z / (4 * trials * trials))
    scale = 1 + z * z / trials
    low, high = rates.share_interval(successes, trials, confidence)
    return Share(
        successes, trials, p, low, high, max(0.0, (centre - half) / scale), min(1.0, (centre + half) / scale)
    )


def check_p_values(p_values):
    """Refuse what is no p value."""
    for p in p_values:
        if not 0 <= p <= 1:
            raise ValueError(f"A p value lies between 0 and 1, not at {p}.")


def holm(p_values):
    """Adjust p values for making several claims at once, by Holm's step-down method.

    Returns a list in the order given. Source: S. Holm, Scand. J. Statistics 6 (1979) 65-70.
    """
    p_values = list(p_values)
    check_p_values(p_values)
    adjusted, highest = [0.0] * len(p_values), 0.0
    for rank, index in enumerate(sorted(range(len(p_values)), key=p_values.__getitem__)):
        highest = max(highest, min(1.0, (len(p_values) - rank) * p_values[index]))
        adjusted[index] = highest
    return adjusted


def benjamini_hochberg(p_values):
    """Adjust p values for screening many comparisons: the share of false alarms among those picked out.

    Returns a list in the order given. Source: Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57 (1995) 289-300.
    """
    p_values = list(p_values)
    check_p_values(p_values)
    adjusted, lowest = [0.0] * len(p_values), 1.0
    order = sorted(range(len(p_values)), key=p_values.__getitem__, reverse=True)
    for place, index in enumerate(order):
        lowest = min(lowest, p_values[index] * len(p_values) / (len(p_values) - place))
        adjusted[index] = lowest
    return adjusted
