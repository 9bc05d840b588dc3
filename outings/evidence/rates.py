"""Contacts per hour: one rate and the ratio of two with exact intervals, and whether contacts come in bursts.

Every interval here takes contacts as independent of each other (a Poisson process). Real contacts come in bursts, so
these intervals are too narrow; `dispersion` measures by how much. A judgement of gear is not made from them.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Rate:
    """Contacts over hours on the air, with the interval that holds the true rate with the stated confidence."""

    contacts: int
    on_air_h: float
    per_h: float
    low: float
    high: float


@dataclass(frozen=True)
class Ratio:
    """Rate A over rate B with its interval; None where it is infinite. `p` and `p_doubled` test that they are equal."""

    ratio: float | None
    low: float
    high: float | None
    p: float
    p_doubled: float


@dataclass(frozen=True)
class Dispersion:
    """Variance over mean of counts in equal slots: 1 for independent contacts, more for bursts."""

    index: float
    chi2: float
    df: int
    p: float


def check_confidence(confidence):
    """Refuse a confidence that is none."""
    if not 0 < confidence < 1:
        raise ValueError(f"A confidence lies between 0 and 1, not at {confidence}.")


def check_count(contacts, on_air_h):
    """Refuse what cannot be counted or timed."""
    if contacts < 0 or contacts != int(contacts):
        raise ValueError(f"Contacts are counted in whole numbers from 0, not {contacts}.")
    if not (on_air_h > 0 and math.isfinite(on_air_h)):
        raise ValueError("There is no rate without time on the air.")


def rate(contacts, on_air_h, confidence=0.95):
    """Contacts per hour with the exact interval for a Poisson count.

    n/T, from χ²(α/2; 2n)/2T to χ²(1-α/2; 2n+2)/2T; the lower end is 0 for n = 0.
    Parameters: `contacts` n, a whole number; `on_air_h` T, time spent trying in hours, calls without answer included.
    Returns a Rate in contacts per hour.
    Raises ValueError without time on the air and for a count below 0.
    Validity: exact for independent contacts; too narrow where they come in bursts.
    Source: F. Garwood, Biometrika 28 (1936) 437-442.
    """
    from scipy.special import gammaincinv

    check_confidence(confidence)
    check_count(contacts, on_air_h)
    tail = (1 - confidence) / 2
    low = float(gammaincinv(contacts, tail)) if contacts else 0.0  # χ²(q; 2n)/2 is the q-quantile of Gamma(n)
    high = float(gammaincinv(contacts + 1, 1 - tail))
    return Rate(int(contacts), on_air_h, contacts / on_air_h, low / on_air_h, high / on_air_h)


def share_interval(successes, trials, confidence):
    """Clopper-Pearson interval of a binomial share; see `shares.share`."""
    from scipy.special import betaincinv

    tail = (1 - confidence) / 2
    low = float(betaincinv(successes, trials - successes + 1, tail)) if successes else 0.0
    high = float(betaincinv(successes + 1, trials - successes, 1 - tail)) if successes < trials else 1.0
    return low, high


def binomial_p(successes, trials, share):
    """Two-sided p of a binomial count: all outcomes no likelier than the observed one, and the smaller tail doubled."""
    import numpy
    from scipy.special import bdtr, bdtrc, gammaln, xlog1py, xlogy

    counts = numpy.arange(trials + 1)
    logs = (
        gammaln(trials + 1) - gammaln(counts + 1) - gammaln(trials - counts + 1)
        + xlogy(counts, share) + xlog1py(trials - counts, -share)
    )
    chances = numpy.exp(logs)
    # The margin of one in ten million keeps outcomes that are equally likely but for rounding, as R does.
    p = float(chances[chances <= chances[successes] * (1 + 1e-7)].sum())
    below = float(bdtr(successes, trials, share))
    above = float(bdtrc(successes - 1, trials, share)) if successes else 1.0
    return min(1.0, p), min(1.0, 2 * min(below, above))


def ratio(contacts_a, on_air_a_h, contacts_b, on_air_b_h, confidence=0.95):
    """Rate A over rate B with the exact conditional interval.

    Given a+b contacts in all, a is binomial with p0 = Ta/(Ta+Tb) if the rates are equal. Ratio (a/Ta)/(b/Tb); interval
    from the Clopper-Pearson interval of p by p/(1-p)·Tb/Ta.
    Returns a Ratio: with b = 0 `ratio` and `high` are None (infinite), `low` still holds. `p` sums all outcomes no
    likelier than the observed one, `p_doubled` doubles the smaller tail; the two differ a little.
    Raises ValueError without time on the air for both, and without any contact.
    Validity: exact for independent contacts; too narrow where they come in bursts. Nothing else is held fixed.
    Source: conditional test of two Poisson rates as in R's poisson.test.
    """
    check_confidence(confidence)
    check_count(contacts_a, on_air_a_h)
    check_count(contacts_b, on_air_b_h)
    trials = int(contacts_a + contacts_b)
    if trials == 0:
        raise ValueError("Two rates cannot be compared before there is a contact.")
    low, high = share_interval(int(contacts_a), trials, confidence)
    times = on_air_b_h / on_air_a_h
    p, p_doubled = binomial_p(int(contacts_a), trials, on_air_a_h / (on_air_a_h + on_air_b_h))
    return Ratio(
        ratio=contacts_a / contacts_b * times if contacts_b else None,
        low=low / (1 - low) * times,
        high=high / (1 - high) * times if contacts_b else None,
        p=p,
        p_doubled=p_doubled,
    )


def dispersion(counts):
    """Test whether counts in equal slots of time vary more than independent contacts would.

    index = s²/mean; χ² = (k-1)·index with k-1 degrees of freedom.
    Raises ValueError for fewer than two slots and for slots without any contact.
    Source: index of dispersion test, R. A. Fisher, Statistical Methods for Research Workers (1925).
    """
    from scipy.special import chdtrc

    counts = list(counts)
    if len(counts) < 2:
        raise ValueError("Whether contacts come in bursts shows from two slots of time on.")
    mean = sum(counts) / len(counts)
    if mean == 0:
        raise ValueError("Slots without any contact do not show whether contacts come in bursts.")
    df = len(counts) - 1
    chi2 = sum((count - mean) ** 2 for count in counts) / mean
    return Dispersion(chi2 / df, chi2, df, float(chdtrc(df, chi2)))


@dataclass(frozen=True)
class InStrata:
    """Rate A over rate B within strata; None where one of the two has no contact in any stratum that both share."""

    ratio: float | None
    se_log: float | None
    low: float | None
    high: float | None
    strata: int
    contacts: int


def ratio_in_strata(strata, dispersion=1.0, confidence=0.95):
    """Rate A over rate B within strata by Mantel and Haenszel: like is set against like, and no model is fitted.

    RR = Σ a T0/T / Σ b T1/T, T1 and T0 the hours of A and B in a stratum, T their sum;
    var(ln RR) = Σ (a+b) T1 T0/T² / [(Σ a T0/T)(Σ b T1/T)], times the dispersion.
    Parameters: `strata`, tuples (contacts A, hours A, contacts B, hours B); those where one has none say nothing.
    Returns an InStrata. Raises ValueError where no stratum has hours of both.
    Source: S. Greenland and J. M. Robins, Biometrics 41 (1985) 55-68.
    """
    from scipy.special import ndtri

    check_confidence(confidence)
    shared = [stratum for stratum in strata if stratum[1] > 0 and stratum[3] > 0]
    if not shared:
        raise ValueError("There is no stratum in which both were on the air.")
    above = math.fsum(a * t0 / (t1 + t0) for a, t1, b, t0 in shared)
    below = math.fsum(b * t1 / (t1 + t0) for a, t1, b, t0 in shared)
    contacts = sum(a + b for a, _, b, _ in shared)
    if not above or not below:
        return InStrata(None, None, None, None, len(shared), contacts)
    variance = math.fsum((a + b) * t1 * t0 / (t1 + t0) ** 2 for a, t1, b, t0 in shared) / (above * below)
    se_log = math.sqrt(variance * max(1.0, dispersion))
    half = float(ndtri((1 + confidence) / 2)) * se_log
    ratio_ = above / below
    return InStrata(ratio_, se_log, ratio_ * math.exp(-half), ratio_ * math.exp(half), len(shared), contacts)


@dataclass(frozen=True)
class Shrunk:
    """A rate drawn towards those of its like, the more the less is known of it, with its interval."""

    per_h: float
    low: float
    high: float


@dataclass(frozen=True)
class Shrinkage:
    """Rates of several arrangements drawn together; shape and rate of the gamma distribution that they vary by.

    Both are None where the rates vary no more than chance: each is then the pooled rate.
    """

    shape: float | None
    rate: float | None
    rates: tuple[Shrunk, ...]


LEAST_TO_SHRINK = 4
LARGEST_SHAPE = 1e4  # beyond it rates vary by less than 1 %, which is none


def shrunk(contacts, on_air_h, confidence=0.95):
    """Draw rates with little data towards the others (gamma-Poisson empirical Bayes).

    n_i ~ Poisson(λ_i T_i), λ_i ~ Gamma(α, β); α and β by maximum marginal (negative-binomial) likelihood, then
    λ̂_i = (α+n_i)/(β+T_i) with the interval of Gamma(α+n_i, β+T_i). The uncertainty of α and β is left out, which makes
    the intervals a little short.
    Returns a Shrinkage, in the order given. Raises ValueError for fewer than LEAST_TO_SHRINK rates.
    Source: D. P. Gaver and I. G. O'Muircheartaigh, Technometrics 29 (1987) 1-15.
    """
    import numpy as np
    from scipy.optimize import minimize
    from scipy.special import gammaincinv, gammaln

    check_confidence(confidence)
    if len(contacts) < LEAST_TO_SHRINK:
        raise ValueError(f"Rates are drawn together from {LEAST_TO_SHRINK} on, not {len(contacts)}.")
    for n_i, hours in zip(contacts, on_air_h, strict=True):
        check_count(n_i, hours)
    n, t = np.array(contacts, float), np.array(on_air_h, float)
    pooled = n.sum() / t.sum()
    tail = (1 - confidence) / 2
    if not pooled:
        low, high = 0.0, float(gammaincinv(1, 1 - tail) / t.sum())
        return Shrinkage(None, None, tuple(Shrunk(0.0, low, high) for _ in contacts))

    def loss(logs):
        shape, mean = np.exp(logs)
        rate_ = shape / mean
        return -float((gammaln(shape + n) - gammaln(shape) + shape * np.log(rate_ / (rate_ + t))
                       + n * np.log(t / (rate_ + t))).sum())

    found = min(
        (minimize(loss, [start, math.log(pooled)], method="Nelder-Mead", options={
            "xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000, "maxfev": 4000,
        }) for start in (-0.5, 2.0)),
        key=lambda one: one.fun,
    )
    shape, mean = (float(value) for value in np.exp(found.x))
    if shape > LARGEST_SHAPE:
        together = rate(int(n.sum()), float(t.sum()), confidence)
        return Shrinkage(None, None, tuple(Shrunk(together.per_h, together.low, together.high) for _ in contacts))
    drawn = []
    for n_i, hours in zip(n, t, strict=True):
        count, exposure = shape + n_i, shape / mean + hours
        ends = [float(gammaincinv(count, q)) / exposure for q in (tail, 1 - tail)]
        drawn.append(Shrunk(float(count / exposure), *ends))
    return Shrinkage(shape, shape / mean, tuple(drawn))
