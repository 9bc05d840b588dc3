"""Why a raw rate differs from an adjusted one: what the circumstances of its stints were worth."""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Circumstance:
    """One thing held fixed: how much it favoured an arrangement against the reference, and where that shows most.

    factor: times as many contacts as the reference would have had under it (1: no favour). level: the value that did
    most of it, with the share of the arrangement's hours and of the reference's hours spent there.
    """

    word: str
    factor: float
    level: object
    share: float
    reference_share: float


def circumstances(design, beta, name):
    """What was held fixed, the strongest first, for one arrangement of a fitted `design.Design`.

    Of each factor sum over levels (share of hours here - share of the reference's hours here) x fitted effect.
    """
    import numpy as np

    hours = np.exp(design.log_h)
    names = np.array([row.arrangement for row in design.rows])
    mine, other = hours * (names == name), hours * (names == design.reference)
    found = []
    for word, codes in design.factors.items():
        effects = design.effects(word, beta)
        shares, others = (np.bincount(codes, one, len(effects)) / one.sum() for one in (mine, other))
        parts = (shares - others) * effects
        whole = float(parts.sum())
        at = int((parts * math.copysign(1.0, whole)).argmax())
        found.append(Circumstance(
            word, math.exp(whole), design.values[word][at], float(shares[at]), float(others[at])
        ))
    return tuple(sorted(found, key=lambda one: -abs(math.log(one.factor))))
