"""Which arrangement makes more contacts: rates compared with like held to like, and how sure that is.

The model: contacts of a stint (or of the part of it within one hour block) vary around
hours x exp(arrangement + outing + band + mode + hour block + calling or answering) with a variance `dispersion` times
as large as that of independent contacts, since contacts come in bursts. Arrangement effects are free. What is held
fixed enters as effects pulled towards zero by a weak normal prior: with many stints the pull vanishes and the model is
the usual additive regression; with few it keeps the fit finite, and the width of the prior becomes part of the
interval instead of a division by nothing. A ratio whose outing, band and mode cannot be separated from the arrangement
is not given at all. The estimator was chosen by simulation, see tests/benchmarks/comparison_coverage.py and
DEVELOPERS.md, "Evidence".
"""

import math
from dataclasses import dataclass, field

from equipment.numerals import Numeral

from . import fitting, shares
from .circumstances import Circumstance, circumstances
from .design import Design, listed

PRIOR_DISPERSION = 2.5  # bursty contacts: 2 to 5 in practice. Common practice, no source.
PRIOR_DISPERSION_DF = 4.0
FEW = 0.5  # a stint with mu contacts says of the dispersion phi 1/(1 + FEW phi/mu) of what one with very many says
SHRINK_SD = 0.35  # spread of arrangements' effects where too few are known to estimate it
DRAWS = 4000
POWER_Z = 0.8416212335729143  # standard normal quantile of 80 % power
MOST_HOURS = 200.0  # beyond this "more hours" is no advice


@dataclass(frozen=True)
class Observation:
    """One stint, or the part of it within one hour block.

    block: what must be held fixed, in the order of HELD, at least four long; stint: what cluster it belongs to (parts
    of one stint share it; empty means a cluster of its own); pair: block of a switching plan, empty without one.
    """

    arrangement: str
    contacts: int
    on_air_h: float
    block: tuple
    stint: str = ""
    pair: str = ""


@dataclass(frozen=True)
class Row:
    """One arrangement: what was counted, and how it compares with the reference.

    rate_per_h with low and high is raw, its interval widened by the dispersion. ratio, ratio_low, ratio_high are
    adjusted, per ratio, neither shrunk nor widened for many comparisons; 1 for the reference; None where it cannot be
    told, with `reason`. ratio_high is None where it is unbounded. chance_best is after shrinkage, None without a ratio.
    """

    arrangement: str
    stints: int
    contacts: int
    on_air_h: float
    rate_per_h: float
    low: float
    high: float
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    chance_best: float | None
    p_holm: float | None = None
    reason: str = ""
    circumstances: tuple[Circumstance, ...] = ()  # why raw and adjusted differ, the strongest first


@dataclass(frozen=True)
class Comparison:
    """The judgement of several arrangements against the one with most on-air hours.

    more_hours_needed is for the two `leaders`, shared between them: 0 where they are told apart, None where it would
    take too long or there are not two.
    """

    reference: str
    arrangements: tuple[Row, ...]
    dispersion: float
    degrees_of_freedom: float
    held_fixed: tuple[str, ...]
    confidence: float
    verdict: str
    more_hours_needed: float | None
    remarks: tuple[str, ...] = field(default=())
    leaders: tuple[str, ...] = field(default=())


class NothingToCompare(ValueError):
    """There are not two arrangements with on-air time; the message says what there is."""


def compare(observations, *, seed=0, confidence=0.95, also_held=()):
    """Compare the contact rates of arrangements, holding outing, band, mode and hour fixed.

    observations: iterable of Observation; hours must be positive and contacts not negative, else ValueError.
    also_held: words for what stands in the blocks behind calling or answering (antenna, arrangement, power ...); no
    ratio is given where an arrangement cannot be told apart from one of these either.
    Returns a Comparison; rows are ordered by chance of being best, then by raw rate. NothingToCompare with fewer than
    two arrangements. The same seed gives the same answer.
    """
    rows = _checked(observations)
    names = sorted({row.arrangement for row in rows})
    hours = {name: math.fsum(row.on_air_h for row in rows if row.arrangement == name) for name in names}
    if len(names) < 2:
        raise NothingToCompare(
            f"only {names[0]} was on the air: there is nothing to compare it with" if names else "no on-air time yet"
        )
    reference = max(names, key=lambda name: (hours[name], name))
    design = Design(rows, names, reference, tuple(also_held))
    fit = _fitted(design)
    told = _ratios(design, fit, confidence)
    best, ranked = _chances(design, fit, told, seed)
    tested = [name for name in names if told[name].p is not None]
    holm = dict(zip(tested, shares.holm([told[name].p for name in tested]), strict=True))
    table = []
    for name in names:
        mine = [row for row in rows if row.arrangement == name]
        contacts = sum(row.contacts for row in mine)
        low, high = rate_interval(contacts, hours[name], fit.dispersion, confidence)
        ratio = told[name]
        table.append(Row(
            name, len({row.stint for row in mine}), contacts, hours[name], contacts / hours[name], low, high,
            ratio.value, ratio.low, ratio.high, best.get(name), holm.get(name), ratio.reason,
            () if name == reference else circumstances(design, fit.beta, name),
        ))
    table.sort(key=lambda row: (-(row.chance_best if row.chance_best is not None else -1), -row.rate_per_h))
    more = _more_hours(design, fit, ranked, hours, confidence)
    remarks = design.remarks()
    verdict = _verdict(table, reference, design, more, ranked, confidence)
    return Comparison(
        reference, tuple(table), fit.dispersion, fit.df, design.held, confidence, verdict, more, remarks,
        tuple(ranked[:2]),
    )


def rate_interval(contacts, hours, dispersion=1.0, confidence=0.95):
    """Interval of a rate under overdispersion, contacts per hour: Garwood's with contacts/dispersion events.

    The exact interval where dispersion is 1; the lower end is 0 for no contacts. ValueError unless hours > 0.
    """
    from scipy.stats import chi2

    if hours <= 0 or contacts < 0 or dispersion <= 0:
        raise ValueError("hours and dispersion must be positive and contacts not negative")
    tail = (1 - confidence) / 2
    events = contacts / dispersion
    low = chi2.ppf(tail, 2 * events) / 2 if contacts else 0.0
    high = chi2.ppf(1 - tail, 2 * events + 2) / 2
    return float(low * dispersion / hours), float(high * dispersion / hours)


def _checked(observations):
    rows = []
    for number, row in enumerate(observations):
        if not (row.on_air_h > 0 and math.isfinite(row.on_air_h)):
            raise ValueError(f"on-air hours must be positive, not {row.on_air_h}")
        if row.contacts < 0:
            raise ValueError(f"contacts must not be negative, not {row.contacts}")
        if len(row.block) < 4:
            raise ValueError("a block names outing, band, mode and hour block")
        stint = row.stint or f"\0{number}"
        rows.append(Observation(row.arrangement, row.contacts, row.on_air_h, tuple(row.block), stint, row.pair))
    return rows


@dataclass(frozen=True)
class _Fit:
    beta: object
    covariance: object
    dispersion: float
    df: float


def _fitted(design):
    """Fit with the dispersion found from the stints' Pearson residuals, drawn towards what is usual.

    The square of a residual, (y - mu)^2/mu, varies by phi^2 (2 + phi/mu): a stint with few contacts says less of the
    dispersion phi than one with many, and weighs as much of a degree of freedom as 1/(1 + phi/2mu).
    Source: fourth cumulant phi^3 mu of a quasi-Poisson count, P. McCullagh and J. A. Nelder, Generalized Linear Models
    (1989), ch. 9 (from memory).
    """
    import numpy as np

    y = design.y
    beta = np.zeros(design.size)
    beta[0] = math.log(max(y.sum(), 0.5) / np.exp(design.log_h).sum())
    dispersion, df = PRIOR_DISPERSION, PRIOR_DISPERSION_DF
    for _ in range(8):
        beta, _ = fitting.minimised(design.model, dispersion, beta)
        mu = np.exp(design.model.eta(beta))
        covariance, used = fitting.covariance(design.model, dispersion, beta)
        sums = np.bincount(design.cluster, y - mu, design.clusters)
        expected = np.bincount(design.cluster, mu, design.clusters)
        weighing = expected + FEW * dispersion  # expected/weighing is the weight of a stint
        own_df = max(0.0, design.clusters - used) * float((expected / weighing).mean())
        pearson = float((sums**2 / weighing).sum())
        total = own_df + PRIOR_DISPERSION_DF
        new = max(1.0, (pearson + PRIOR_DISPERSION_DF * PRIOR_DISPERSION) / total)
        df = total
        if abs(new - dispersion) < 1e-4 * dispersion:
            dispersion = new
            break
        dispersion = new
    return _Fit(beta, covariance, dispersion, df)


@dataclass(frozen=True)
class _Ratio:
    value: float | None = None
    low: float | None = None
    high: float | None = None
    p: float | None = None
    reason: str = ""


def _ratios(design, fit, confidence):
    """Adjusted ratio of each arrangement to the reference with its profile interval."""
    from scipy.stats import t

    told = {design.reference: _Ratio(1.0, 1.0, 1.0)}
    quantile = float(t.ppf((1 + confidence) / 2, fit.df))
    reference_contacts = sum(row.contacts for row in design.rows if row.arrangement == design.reference)
    for name in design.free:
        if not design.separable(name):
            told[name] = _Ratio(reason=design.reason(name))
            continue
        contacts = sum(row.contacts for row in design.rows if row.arrangement == name)
        if not contacts and not reference_contacts:
            told[name] = _Ratio(reason="neither this one nor the reference has a contact yet")
            continue
        column = design.column(name)
        base, best = fitting.minimised(design.model, fit.dispersion, fit.beta)

        def root(value, column=column, base=base, best=best):
            """Signed root of the profile's drop, which a t quantile bounds."""
            _, loss = fitting.minimised(design.model, fit.dispersion, base, (column, value))
            return math.copysign(math.sqrt(max(0.0, 2 * (loss - best))), value - base[column])

        centre = base[column]
        spread = math.sqrt(fit.covariance[column, column])
        low = _crossing(root, centre, -spread, -quantile) if contacts else -math.inf
        high = _crossing(root, centre, spread, quantile) if reference_contacts else math.inf
        p = 2 * float(t.sf(abs(root(0.0)), fit.df))
        told[name] = _Ratio(
            math.exp(centre) if contacts and reference_contacts else (0.0 if reference_contacts else None),
            math.exp(low) if contacts else 0.0,
            math.exp(high) if math.isfinite(high) else None,
            p,
            "" if reference_contacts else "the reference has no contact yet: only a lower bound is known",
        )
    return told


def _crossing(root, centre, step, wanted):
    """Where the signed root reaches `wanted`: doubled steps outward, then Illinois regula falsi."""
    inside, f_inside = centre, 0.0
    outside = centre
    step = math.copysign(min(3.0, max(0.05, abs(step) * abs(wanted))), step)
    for _ in range(12):
        outside += step
        f_outside = root(outside)
        if abs(f_outside) >= abs(wanted):
            break
        inside, f_inside = outside, f_outside
        step *= 1.5
    else:
        return math.copysign(math.inf, step)
    a, fa, b, fb = inside, f_inside - wanted, outside, f_outside - wanted
    for _ in range(12):
        middle = (a * fb - b * fa) / (fb - fa)
        f = root(middle) - wanted
        if abs(f) < 2e-3:
            return middle
        if (f > 0) == (fb > 0):
            b, fb, fa = middle, f, fa / 2
        else:
            a, fa, b, fb = b, fb, middle, f
    return middle


def _chances(design, fit, told, seed):
    """Chance of being best for every arrangement with a ratio, after shrinkage; and the names by shrunk effect."""
    import numpy as np

    names = [name for name in design.names if told[name].low is not None]
    if len(names) < 2:
        return {}, names
    # fit again with the arrangements' effects drawn towards their common mean, the reference's being zero
    k = len(design.free)
    known = [i for i in range(k) if fit.covariance[1 + i, 1 + i] < 4]
    spread = _spread(fit.beta[1 : k + 1][known], fit.covariance[1 : k + 1, 1 : k + 1][np.ix_(known, known)])
    drawn = np.zeros((design.model.columns,) * 2)
    drawn[1 : k + 1, 1 : k + 1] = (np.eye(k) - np.full((k, k), 1 / (k + 1))) / spread**2
    start = np.clip(fit.beta, -6, 6)
    beta, _ = fitting.minimised(design.model, fit.dispersion, start, drawn=drawn)
    covariance = fitting.covariance(design.model, fit.dispersion, beta, drawn)[0][1 : k + 1, 1 : k + 1]
    mean = beta[1 : k + 1]
    rng = np.random.default_rng(seed)
    normal = rng.multivariate_normal(np.zeros(k), covariance, DRAWS, method="eigh")
    scale = np.sqrt(fit.df / rng.chisquare(fit.df, DRAWS))[:, None]
    draws = mean + normal * scale
    value = {design.reference: np.zeros(DRAWS)} | {name: draws[:, i] for i, name in enumerate(design.free)}
    stacked = np.column_stack([value[name] for name in names])
    winners = np.bincount(stacked.argmax(axis=1), minlength=len(names)) / DRAWS
    centre = {design.reference: 0.0} | dict(zip(design.free, mean, strict=True))
    ranked = sorted(names, key=lambda name: -centre[name])
    return {name: float(share) for name, share in zip(names, winners, strict=True)}, ranked


def _spread(effect, covariance):
    """Spread of arrangements' true effects: from the data (method of moments) where there are enough, else usual."""
    import numpy as np

    k = len(effect)
    if k < 3:  # with fewer than four arrangements the data say next to nothing of it
        return SHRINK_SD
    every = np.append(effect, 0.0)
    observed = float(np.var(every, ddof=1))
    noise = float(np.trace(covariance) / k) / 2
    return math.sqrt(max(0.1**2, (4 * SHRINK_SD**2 + k * max(0.0, observed - noise)) / (4 + k)))


def _difference(design, fit, first, second):
    """Log ratio first/second and its standard error."""
    import numpy as np

    contrast = np.zeros(len(fit.covariance))
    for name, sign in ((first, 1), (second, -1)):
        if (column := design.column(name)) is not None:
            contrast[column] = sign
    variance = float(contrast @ fit.covariance @ contrast)
    return float(contrast @ fit.beta[: len(contrast)]), math.sqrt(max(1e-12, variance))


def _more_hours(design, fit, ranked, hours, confidence):
    """More on-air hours, shared by the two leading arrangements, that would tell them apart with 80 % power.

    0 where they are told apart already; None where there is nothing to tell or it would take more than MOST_HOURS.
    """
    from scipy.stats import norm, t

    if len(ranked) < 2:
        return None
    first, second = ranked[:2]
    difference, error = _difference(design, fit, first, second)
    if abs(difference) > float(t.ppf((1 + confidence) / 2, fit.df)) * error:
        return 0.0
    if abs(difference) < 0.02:
        return None
    wanted = (float(norm.ppf((1 + confidence) / 2)) + POWER_Z) / abs(difference)
    together = hours[first] + hours[second]
    more = together * ((wanted * error) ** 2 - 1)
    return more if 0 < more <= MOST_HOURS else None


def _verdict(table, reference, design, more, ranked, confidence):
    """The plain sentence."""
    told = [row for row in table if row.ratio_low is not None]
    if len(told) < 2:
        return f"These cannot be compared yet. {_reasons(table)}."
    claims = []
    for row in told:
        if row.arrangement == reference or row.p_holm is None or row.p_holm >= 1 - confidence:
            continue
        if row.ratio and row.ratio > 1:
            claims.append(f"{row.arrangement} makes {_times(row)} times the contacts per hour of {reference}")
        elif row.ratio is not None:
            claims.append(f"{row.arrangement} makes only {_times(row)} of the contacts per hour of {reference}")
    held = listed(design.held)
    if claims:
        return f"{'; '.join(claims)}, with {held} held fixed." if held else f"{'; '.join(claims)}."
    first, second = ranked[:2]
    if more == 0:
        many = len(told)
        return f"{first} looks better than {second}, but with {many} compared at once not surely enough to claim it."
    if more:
        return (
            f"The data cannot tell {first} from {second} yet; about {about_hours(more)} more on the air with both, "
            "in turns, would if the difference is what it looks like now."
        )
    return f"The data cannot tell {first} from {second}; a difference this small would take very long to show."


def _reasons(table):
    """Why what cannot be compared cannot: names with the same reason together."""
    names = {}
    for row in table:
        if row.reason:
            names.setdefault(row.reason, []).append(row.arrangement)
    said = "; ".join(f"{listed(mine)}: {reason}" for reason, mine in names.items())
    return f"{said[:1].upper()}{said[1:]}"


def _times(row):
    high = "more" if row.ratio_high is None else f"{Numeral(row.ratio_high):.2g}"
    return f"{Numeral(row.ratio):.2g} (between {Numeral(row.ratio_low):.2g} and {high})"


def about_hours(hours):
    """A length of time as roughly as it is known: 40 minutes, 1.5 hours, 65 hours, 150 hours."""
    if hours < 0.95:
        return f"{max(10, round(hours * 6) * 10)} minutes"
    if hours < 9.95:
        return f"{Numeral(hours):.1f} hours"
    return f"{hours:.0f} hours" if hours < 99.5 else f"{round(hours, -1):.0f} hours"
