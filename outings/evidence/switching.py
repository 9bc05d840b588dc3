"""Switching plans: short blocks of two or more arrangements in random or ABBA order, and what they could show."""

import math
import random
from dataclasses import dataclass

from equipment.numerals import Numeral

from .comparison import PRIOR_DISPERSION, PRIOR_DISPERSION_DF
from .design import PAIR_SD

POWER = 0.8
LEVEL = 0.05


@dataclass(frozen=True)
class Block:
    """One block of a plan: which arrangement, from which minute to which, and the round that it belongs to."""

    arrangement: str
    start_min: float
    end_min: float
    pair: int


def plan(arrangements, minutes, block_min, *, seed=0, order="random", change_min=0.0):
    """Blocks for the minutes at hand, whole rounds only, so that every arrangement has equal time in every round.

    arrangements: two or more names; block_min: minutes on the air a block; change_min: minutes to change over before a
    block of another arrangement, not on-air time; order: "random" (each round shuffled from the seed) or "ABBA" (each
    round turned against the last). ValueError if not even one round fits, or for senseless values.
    Common practice in field trials: blocking and randomisation, so that conditions are shared.
    """
    names = list(dict.fromkeys(arrangements))
    if len(names) < 2:
        raise ValueError("a fair test needs two different arrangements")
    if block_min <= 0 or change_min < 0 or order not in ("random", "ABBA"):
        raise ValueError("a block needs time, a change takes no less than none, and the order is random or ABBA")
    chance = random.Random(seed)
    blocks, at, before, turned = [], 0.0, None, False
    for number in range(10_000):
        if order == "random":
            turn = chance.sample(names, len(names))
        else:
            turn, turned = (names[::-1] if turned else names), not turned
        added = []
        clock = at
        for name in turn:
            clock += change_min if before not in (None, name) else 0.0
            added.append(Block(name, clock, clock + block_min, number))
            clock += block_min
            before = name
        if clock > minutes + 1e-9:
            break
        blocks += added
        at = clock
    if not blocks:
        raise ValueError(
            f"{Numeral(minutes):g} minutes are too few for a round of {len(names)} blocks of {Numeral(block_min):g} "
            "minutes"
        )
    return tuple(blocks)


def _z(level, power):
    from scipy.stats import norm

    return float(norm.ppf(1 - level / 2) + norm.ppf(power))


def minutes_each(slower_per_h, ratio, dispersion=1.0, level=LEVEL, power=POWER):
    """Minutes on each of two arrangements that show a true ratio with the stated power, two-sided.

    T = z^2 (1/lA + 1/lB)/ln^2 r, times the dispersion; 2 to 3 % short of the exact conditional test. ValueError unless
    the rate is positive and the ratio differs from 1. Closed form (log rate ratio, normal approximation).
    """
    if slower_per_h <= 0 or ratio <= 0 or ratio == 1 or dispersion <= 0:
        raise ValueError("the rate must be positive and the ratio differ from 1")
    ratio = max(ratio, 1 / ratio)
    hours = _z(level, power) ** 2 * (1 / slower_per_h + 1 / (slower_per_h * ratio)) / math.log(ratio) ** 2
    return 60 * hours * dispersion


def minutes_each_by_roots(slower_per_h, ratio, dispersion=1.0, level=LEVEL, power=POWER):
    """The same by the square-root (variance-stabilised) formula T = z^2/[2 (sqrt lA - sqrt lB)^2]; 2 to 10 % short."""
    if slower_per_h <= 0 or ratio <= 0 or ratio == 1 or dispersion <= 0:
        raise ValueError("the rate must be positive and the ratio differ from 1")
    ratio = max(ratio, 1 / ratio)
    gap = math.sqrt(slower_per_h * ratio) - math.sqrt(slower_per_h)
    return 60 * _z(level, power) ** 2 / (2 * gap**2) * dispersion


def shown_log_ratio(slower_per_h, ratio, rounds, block_min, dispersion=1.0, arrangements=2):
    """The smallest log ratio that so many rounds of blocks show in four of five tests, as `comparison.compare` judges.

    SE (t sqrt(phi') + z sqrt(phi)): counts vary `dispersion` = phi times as much as independent ones, but the judgement
    has to find phi out, with few degrees of freedom nu, and draws it towards what is usual, to phi'. SE is that of the
    log ratio of two independent counts; t the two-sided quantile at nu, at the level of Holm's first step where there
    are more than two arrangements; z the quantile of POWER. A round takes 1 - (1 - h)^2 degrees of freedom, h being its
    share of the information against the prior of rounds (`fitting.covariance`), and a block with few contacts counts
    less (`comparison.compare`); `ratio` says how many it has.
    Closed form (normal approximation); held against simulation in tests/benchmarks/switching_power.py.
    """
    from scipy.special import ndtri, stdtrit

    slower = slower_per_h * block_min / 60  # contacts a block
    together = (arrangements - 1 + ratio) * slower  # contacts a round
    held = together / (together + dispersion / PAIR_SD**2)
    own = max(0.0, rounds * arrangements - arrangements - rounds * (1 - (1 - held) ** 2))
    own *= together / (together + arrangements * dispersion / 2)
    df = own + PRIOR_DISPERSION_DF
    judged = max(1.0, (own * dispersion + PRIOR_DISPERSION_DF * PRIOR_DISPERSION) / df)
    t = float(stdtrit(df, 1 - LEVEL / (arrangements - 1) / 2))
    error = math.sqrt((1 + 1 / ratio) / (slower * rounds))
    return error * (t * math.sqrt(judged) + float(ndtri(POWER)) * math.sqrt(dispersion))


def shows(slower_per_h, ratio, rounds, block_min, dispersion=1.0, arrangements=2):
    """Whether so many rounds show a true ratio above 1 with the power POWER (`shown_log_ratio`)."""
    return math.log(ratio) >= shown_log_ratio(slower_per_h, ratio, rounds, block_min, dispersion, arrangements)


def smallest_ratio(slower_per_h, rounds, block_min, dispersion=1.0, arrangements=2):
    """The smallest true ratio that so many rounds of blocks would show; None if not even twentyfold would.

    ValueError unless rate, rounds, minutes and dispersion are positive.
    """
    if min(slower_per_h, rounds, block_min, dispersion) <= 0:
        raise ValueError("rate, rounds, minutes and dispersion must be positive")
    low, high = 1.0005, 20.0
    if not shows(slower_per_h, high, rounds, block_min, dispersion, arrangements):
        return None
    for _ in range(60):
        middle = (low + high) / 2
        enough = shows(slower_per_h, middle, rounds, block_min, dispersion, arrangements)
        low, high = (low, middle) if enough else (middle, high)
    return high


def rounds_needed(slower_per_h, ratio, block_min, dispersion=1.0, arrangements=2):
    """How many rounds of blocks show a true ratio. ValueError for values not above zero, or a ratio of 1."""
    if ratio <= 0 or ratio == 1 or min(slower_per_h, block_min, dispersion) <= 0:
        raise ValueError("rate, minutes and dispersion must be positive and the ratio differ from 1")
    ratio = max(ratio, 1 / ratio)
    low, high = 0, 1
    while not shows(slower_per_h, ratio, high, block_min, dispersion, arrangements):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        enough = shows(slower_per_h, ratio, middle, block_min, dispersion, arrangements)
        low, high = (low, middle) if enough else (middle, high)
    return high


@dataclass(frozen=True)
class Outlook:
    """What a fair test could show. smallest_ratio: None if not even twentyfold; needed: (ratio, minutes in all)."""

    minutes_each: float
    slower_per_h: float
    dispersion: float
    smallest_ratio: float | None
    needed: tuple[tuple[float, float], ...]


RATIOS = (1.2, 1.5, 2.0)


def outlook(blocks, slower_per_h, dispersion=1.0, ratios=RATIOS):
    """What planned blocks could show, two of the arrangements against each other, with 80 % power.

    blocks: as `plan` returns them; slower_per_h, dispersion: the operator's own. The minutes needed are those of whole
    rounds of such blocks of all arrangements, set-up left out. ValueError for a rate or dispersion not above zero.
    """
    many = len({block.arrangement for block in blocks})
    rounds, block_min = len(blocks) // many, blocks[0].end_min - blocks[0].start_min
    needed = [(ratio, rounds_needed(slower_per_h, ratio, block_min, dispersion, many)) for ratio in ratios]
    return Outlook(
        rounds * block_min, slower_per_h, dispersion, smallest_ratio(slower_per_h, rounds, block_min, dispersion, many),
        tuple((ratio, enough * many * block_min) for ratio, enough in needed),
    )
