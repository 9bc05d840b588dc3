"""Signal reports compared with like held to like, as far as they were honest.

A report received says how this station was heard, one sent how it heard. Strength is read in decibels: digital reports
as they are, the S of a readability-strength(-tone) report times six (IARU Region 1 technical recommendation R.1, from
memory; real meters seldom follow it). Where nearly everybody gets 59 the reports say nothing, so whole outings are left
out by a rule that looks at all of their reports; picking single ones would pick the weak.
"""

import math
import re
from collections import defaultdict
from dataclasses import dataclass, replace
from functools import lru_cache

from equipment.numerals import Numeral

from . import strata

RST = re.compile(r"[1-5]([1-9])[1-9N]?", re.ASCII)
DECIBELS = re.compile(r"[+-]?\d{1,2}", re.ASCII)
DB_PER_S_UNIT = 6.0
MOST_USUAL = 0.8  # share of the usual report above which an outing's reports are taken as a formality
LEAST_REPORTS = 8
PRIOR_CORRELATION = 0.2  # of reports of one stint within a block. Common practice, no source.


@dataclass(frozen=True)
class Exchanged:
    """The reports of contacts as they were written, and what is usual in their mode ("" where none is)."""

    outing: object  # what tells it from others
    sent: str
    received: str
    usual: str
    contacts: int = 1  # that exchanged the same


@lru_cache(maxsize=4096)
def strength_db(report, *, decibels=False):
    """The strength in a report, in dB: six a unit of the S in 59 or 599, or the number itself where modes report dB.

    None for a report that is neither (empty, 5NN with cut numbers is read: N is 9; "59+20" counts its 20 dB on top).
    Source: IARU Region 1 technical recommendation R.1: 6 dB a unit (from memory).
    """
    text = report.strip().upper()
    if decibels:
        return float(text) if DECIBELS.fullmatch(text) else None
    base, plus, over = text.partition("+")
    found = RST.fullmatch(base.replace("N", "9"))
    if not found:
        return None
    if plus and not (over.removesuffix("DB").strip().isdigit() and found[1] == "9"):
        return None
    return DB_PER_S_UNIT * int(found[1]) + (float(over.removesuffix("DB")) if plus else 0.0)


def honest_outings(exchanged):
    """The outings whose reports were no formality on either side, and those that were not, as two sets.

    At least LEAST_REPORTS contacts with both reports, and at most MOST_USUAL of those sent and of those received are
    what is usual in their mode. Reports of modes without a usual one (digital dB) count as honest. Common practice.
    """
    sides = defaultdict(lambda: [0, 0, 0])
    for one in exchanged:
        if one.sent and one.received:
            count = sides[one.outing]
            count[0] += one.contacts
            if one.usual:
                count[1] += one.contacts * _same(one.sent, one.usual)
                count[2] += one.contacts * _same(one.received, one.usual)
    honest = {
        outing for outing, (n, sent, received) in sides.items()
        if n >= LEAST_REPORTS and max(sent, received) <= MOST_USUAL * n
    }
    return honest, set(sides) - honest


@lru_cache(maxsize=4096)
def _same(report, usual):
    return report.strip().upper().replace("N", "9") == usual


def compare_reports(samples, *, confidence=0.95, also_held=()):
    """Mean difference of report strengths within blocks, stints as clusters (`strata.mean_told`).

    Parameters: `samples`, an iterable of `strata.Sample` in dB, one measure (received or sent) and one power
    throughout; normalise others with 10 log(P). Returns a `strata.Judgement` in dB. Raises as `strata.judge`.
    Validity: whole S units or rounded dB limit the resolution.
    """

    def told(found):
        found = replace(found, prior=PRIOR_CORRELATION)
        return strata.too_few(found) or strata.mean_told(found, found.values, confidence)

    def own(values, effect):
        from scipy.special import stdtrit

        n, mean = len(values), sum(values) / len(values)
        if n < 2:
            return mean, None, None
        sd = math.sqrt(sum((value - mean) ** 2 for value in values) / (n - 1))
        half = float(stdtrit(max(1.0, n / effect - 1), (1 + confidence) / 2)) * sd * math.sqrt(effect / n)
        return mean, mean - half, mean + half

    return strata.judge(
        samples, "signal report", "dB", own, told,
        lambda row, reference: (
            f"reports with {row.arrangement} are {Numeral(abs(row.difference)):.1f} dB "
            f"{'stronger' if row.difference > 0 else 'weaker'} than with {reference} "
            f"({Numeral(min(abs(row.difference_low), abs(row.difference_high))):.1f} to "
            f"{Numeral(max(abs(row.difference_low), abs(row.difference_high))):.1f})"
        ), confidence, also_held,
    )
