"""Values of contacts compared within blocks: the contrast of two arrangements with stints as clusters.

Distances and reports of one stint resemble each other (one opening, one pile-up), so contacts of a stint do not count
as independent. Within a block the values have a common variance and, if of the same stint, a common correlation rho:

    Var(sum c_i a_i) = sum_i v c_i^2 (1 - rho) + rho sum_stints (sum_{i in stint} c_i sqrt(v))^2,   c_i = 1(A) - m/(m+n)

with m and n contacts of the two in the block. rho is found from the stints' sums of residuals by the method of
moments, drawn towards what is usual with the weight of a few stints. Chosen by simulation, see
tests/benchmarks/values_coverage.py and DEVELOPERS.md, "Evidence".
"""

import math
from collections import defaultdict
from dataclasses import dataclass, field, replace

from . import rates, shares
from .design import HELD, WHERE, listed

MUST_HOLD = 3  # outing, band, mode are never given up
KEEPS = 0.6  # hour block and the like are held while they keep so much of the pairs' information
PRIOR_CORRELATION = 0.12  # of distances of one stint within a block. Common practice, no source.
PRIOR_CORRELATION_DF = 4.0
LEAST_SHARED = 3  # contacts of each in common blocks, below which nothing is said
MOST_CONTACTS = 2_000  # beyond this "more contacts" is no advice
POWER_Z = 0.8416212335729143  # standard normal quantile of 80 % power


@dataclass(frozen=True)
class Sample:
    """The values (kilometres, decibels) of the contacts of one stint, or of its part within one hour block.

    block, stint and pair as in `comparison.Observation`.
    """

    arrangement: str
    values: tuple
    block: tuple
    stint: str = ""
    pair: str = ""


@dataclass(frozen=True)
class Row:
    """One arrangement: what was measured, and how it differs from the reference in blocks that both share.

    value with low and high is raw, of all its contacts. difference is adjusted, 0 for the reference, None where it
    cannot be told, with `reason`; its ends are None where the data do not bound it. `shared` contacts stand behind it.
    """

    arrangement: str
    stints: int
    contacts: int
    value: float | None
    low: float | None
    high: float | None
    difference: float | None = None
    difference_low: float | None = None
    difference_high: float | None = None
    shared: int = 0
    p_holm: float | None = None
    reason: str = ""
    indirect: bool = False  # by way of others that share blocks with both


@dataclass(frozen=True)
class Judgement:
    """Several arrangements against the one with most contacts that have a value."""

    measure: str
    unit: str
    reference: str
    arrangements: tuple[Row, ...]
    correlation: float
    held_fixed: tuple[str, ...]
    confidence: float
    verdict: str
    more_contacts_needed: int | None
    remarks: tuple[str, ...] = field(default=())


class NothingToCompare(ValueError):
    """There are not two arrangements with values; the message says what there is."""


@dataclass(frozen=True)
class Told:
    """A difference with its interval and p, or the reason why there is none."""

    value: float | None = None
    low: float | None = None
    high: float | None = None
    p: float | None = None
    error: float | None = None
    df: float = PRIOR_CORRELATION_DF
    shared: int = 0
    correlation: float = PRIOR_CORRELATION
    reason: str = ""
    indirect: bool = False


def checked(samples):
    """Samples with finite values and a name for every cluster; ValueError for what is none."""
    rows = []
    for number, row in enumerate(samples):
        if len(row.block) < 4:
            raise ValueError("a block names outing, band, mode and hour block")
        if not all(math.isfinite(value) for value in row.values):
            raise ValueError("values must be finite numbers")
        if row.values:
            rows.append(replace(row, block=tuple(row.block), stint=row.stint or f"\0{number}"))
    return rows


def judge(samples, measure, unit, own, told_of, say, confidence=0.95, also_held=()):
    """Compare the values of arrangements within blocks; what is compared comes as functions.

    also_held: words for what stands in the blocks behind calling or answering, which is held fixed, too.
    own(values, design effect): (value, low, high) of an arrangement's own contacts; told_of(contrast): a Told;
    say(row, reference): one claim in words.
    Returns a Judgement, rows by difference, largest first. NothingToCompare with fewer than two arrangements.
    """
    rates.check_confidence(confidence)
    rows = checked(samples)
    by = defaultdict(list)
    for row in rows:
        by[row.arrangement].append(row)
    if len(by) < 2:
        raise NothingToCompare(
            f"only {next(iter(by))} has contacts with a {measure}: there is nothing to compare it with" if by else
            f"no contact has a {measure} yet"
        )
    counts = {name: sum(len(row.values) for row in mine) for name, mine in by.items()}
    reference = max(sorted(by), key=counts.get)
    level = level_held(by, reference)
    told = {name: told_of(contrast(by[name], by[reference], level)) if name != reference else Told(0.0, 0.0, 0.0)
            for name in by}
    told |= by_way(by, reference, level, told, told_of, confidence)
    tested = [name for name in sorted(by) if told[name].p is not None]
    holm = dict(zip(tested, shares.holm([told[name].p for name in tested]), strict=True))
    known = [told[name].correlation for name in tested]
    correlation = sum(known) / len(known) if known else PRIOR_CORRELATION
    table = []
    for name, mine in by.items():
        sizes = defaultdict(int)
        for row in mine:
            sizes[row.stint] += len(row.values)
        effect = 1 + correlation * (sum(n * n for n in sizes.values()) / counts[name] - 1)
        value, low, high = own([value for row in mine for value in row.values], effect)
        one = told[name]
        table.append(Row(name, len(sizes), counts[name], value, low, high, one.value, one.low, one.high,
                         one.shared, holm.get(name), one.reason, one.indirect))
    table.sort(key=lambda row: (row.difference is None, -(row.difference or 0), row.arrangement))
    held = held_words(rows, level, also_held)
    more = more_contacts(told, reference, confidence)
    return Judgement(measure, unit, reference, tuple(table), correlation, held, confidence,
                     verdict(table, reference, held, more, measure, say, confidence), more, ways(table, reference))


def ways(table, reference):
    """What is to be borne in mind about differences that are known by way of others only."""
    names = [row.arrangement for row in table if row.indirect]
    if not names:
        return ()
    return (f"{listed(names)}: never in common blocks with {reference}, but with others that were; compared by way of "
            "these",)


def by_way(by, reference, level, told, told_of, confidence):
    """{name: Told} of arrangements that share blocks with others which lead to the reference, by least squares.

    The differences of all pairs with common blocks are the observations, weighted by 1/error²; each unknown is an
    arrangement's difference from the reference. Degrees of freedom by F. E. Satterthwaite, Biometrics Bulletin 2 (1946)
    110-114. Source: indirect comparison by weighted least squares, as in network meta-analysis (G. Lu and A. E. Ades,
    Statistics in Medicine 23 (2004) 3105-3124); pairs of one block are taken as independent.
    """
    import numpy as np
    from scipy.special import stdtr, stdtrit

    missing = {name for name in by if told[name].value is None}
    if not missing:
        return {}
    edges = [(name, reference, one) for name, one in told.items() if one.p is not None]
    others = [name for name in sorted(by) if name != reference]
    for place, first in enumerate(others):
        for second in others[place + 1:]:
            one = told_of(contrast(by[first], by[second], level))
            if one.p is not None:
                edges.append((first, second, one))
    reached, before = {reference}, 0
    while len(reached) > before:
        before = len(reached)
        for first, second, _ in edges:
            if first in reached or second in reached:
                reached |= {first, second}
    wanted = sorted(missing & reached)
    if not wanted:
        return {}
    edges = [edge for edge in edges if edge[0] in reached]
    index = {name: place for place, name in enumerate(sorted(reached - {reference}))}
    design = np.zeros((len(edges), len(index)))
    for row, (first, second, _) in enumerate(edges):
        if first != reference:
            design[row, index[first]] += 1
        if second != reference:
            design[row, index[second]] -= 1
    values = np.array([one.value for *_, one in edges])
    variances = np.array([one.error**2 for *_, one in edges])
    steps = np.linalg.solve((design.T / variances) @ design, design.T / variances)
    found = {}
    for name in wanted:
        parts = steps[index[name]] ** 2 * variances
        total = float(parts.sum())
        df = total**2 / float((parts**2 / np.array([one.df for *_, one in edges])).sum())
        value, error = float(steps[index[name]] @ values), math.sqrt(total)
        half = float(stdtrit(df, (1 + confidence) / 2)) * error
        used = [one for (*_, one), part in zip(edges, parts, strict=True) if part > 0.01 * total]
        found[name] = Told(
            value, value - half, value + half, 2 * float(stdtr(df, -abs(value) / error)), error, df,
            sum(one.shared for one in used), sum(one.correlation for one in used) / len(used), indirect=True,
        )
    return found


def key_of(row, level):
    """What is held fixed of a sample at a level: so many parts of its block, and its pair of a switching plan."""
    return (*row.block[:level], *row.block[len(HELD):], row.pair)


def information(first, second):
    """Sum over blocks of mn/(m+n): how much the contacts of two arrangements in common blocks, as counted, can tell."""
    return sum(m * second[key] / (m + second[key]) for key, m in first.items() if key in second)


def counted(rows, level):
    """{block: contacts} at a level."""
    counts = defaultdict(int)
    for row in rows:
        counts[key_of(row, level)] += len(row.values)
    return counts


def level_held(by, reference):
    """How many parts of the blocks are held: the most that keep enough of what outing, band and mode alone would."""
    widest = max(len(row.block) for rows in by.values() for row in rows)

    def of_all(level):
        against = counted(by[reference], level)
        return sum(information(counted(rows, level), against) for name, rows in by.items() if name != reference)

    least = KEEPS * of_all(MUST_HOLD)
    return next((level for level in range(min(widest, len(HELD)), MUST_HOLD, -1) if of_all(level) >= least), MUST_HOLD)


def held_words(rows, level, also_held=()):
    """The names of what was held fixed and differs at all."""
    named = [*zip(range(level), HELD, strict=False), *enumerate(also_held, len(HELD))]
    words = [word for place, word in named if len({row.block[place:place + 1] for row in rows}) > 1]
    if any(row.pair for row in rows):
        words.append("pair of the switching plan")
    return tuple(words)


@dataclass(frozen=True)
class Contrast:
    """Contacts of two arrangements in the blocks that both share, as arrays; empty ones where they share none."""

    values: object
    first: object  # is it of the first arrangement?
    block: object
    cluster: object
    prior: float = PRIOR_CORRELATION
    reason: str = ""

    @property
    def enough(self):
        return int(self.first.sum()) >= LEAST_SHARED and int((~self.first).sum()) >= LEAST_SHARED

    @property
    def sizes(self):
        """Contacts of a block, of the first arrangement and in all."""
        import numpy as np

        return np.bincount(self.block, self.first), np.bincount(self.block)

    @property
    def weights(self):
        """c_i = 1(A) - m/(m+n)."""
        m, both = self.sizes
        return self.first - (m / both)[self.block]

    @property
    def of_all(self):
        """Sum over blocks of mn/(m+n)."""
        m, both = self.sizes
        return float((m * (both - m) / both).sum())

    def centred(self, scores):
        """Scores less the mean of their block."""
        import numpy as np

        return scores - (np.bincount(self.block, scores) / np.bincount(self.block))[self.block]

    def ranked(self, shift=0.0):
        """Ranks within blocks over (m+n+1), centred, after the first arrangement's values are shifted back.

        The weights of P. van Elteren, Bulletin of the International Statistical Institute 37 (1960) 351-361.
        """
        import numpy as np

        moved = np.where(self.first, self.values - shift, self.values)
        order = np.lexsort((moved, self.block))
        sorted_block, sorted_values = self.block[order], moved[order]
        new = np.ones(len(order), bool)
        new[1:] = (sorted_block[1:] != sorted_block[:-1]) | (sorted_values[1:] != sorted_values[:-1])
        group = np.cumsum(new) - 1
        middle = np.bincount(group, np.arange(len(order))) / np.bincount(group)
        both = np.bincount(self.block)
        start = np.cumsum(both) - both
        ranks = np.empty(len(order))
        ranks[order] = middle[group] - start[sorted_block]  # from 0
        size = both[self.block]
        return (ranks - (size - 1) / 2) / (size + 1)

    def spread(self, scores):
        """Variance of the sum of scores of the first arrangement, its degrees of freedom, and the correlation.

        scores: centred in their blocks, with what separates the arrangements taken out (a shift) as far as possible.
        """
        import numpy as np

        _, both = self.sizes
        variance = np.bincount(self.block, scores**2) / np.maximum(both - 1, 1)
        deviation = np.sqrt(variance)[self.block]
        weighted = self.weights * deviation
        own = float((weighted**2).sum())
        together = float((np.bincount(self.cluster, weighted) ** 2).sum())
        rho, own_df = self.correlation(np.divide(scores, deviation, out=np.zeros(len(scores)), where=deviation > 0))
        apart = own * (1 - rho)
        total = apart + rho * together
        if total <= 0:
            return 0.0, 1.0, rho
        loose = max(1.0, len(scores) - len(both) - 1)
        df = total**2 / (apart**2 / loose + (rho * together) ** 2 / (own_df + PRIOR_CORRELATION_DF) + 1e-30)
        return total, max(PRIOR_CORRELATION_DF, min(df, loose)), rho

    def correlation(self, residuals):
        """Correlation of contacts of a stint from its sums of residuals, drawn in; and its degrees of freedom.

        With H the projection that takes block means and the contrast out, Z the stints' indicators, Q the sum of
        squared sums and R the sum of squares: E[Q] = (1 - rho) tr(Z'HZ) + rho |Z'HZ|^2,
        E[R] = (1 - rho) tr(H) + rho tr(Z'HZ).
        """
        import numpy as np
        from scipy.sparse import coo_array

        clusters, blocks = int(self.cluster.max()) + 1, int(self.block.max()) + 1
        both = np.bincount(self.block)
        counts = coo_array((np.ones(len(residuals)), (self.cluster, self.block)), (clusters, blocks)).tocsr()
        size = np.bincount(self.cluster)
        scaled = counts.multiply(1 / np.sqrt(both)[None, :]).tocsr()
        taken = np.asarray(scaled.multiply(scaled).sum(axis=1)).ravel()
        crossed = scaled.T @ scaled
        squares = float((size**2).sum() - 2 * (size * taken).sum() + (crossed.multiply(crossed)).sum())
        weights = self.weights
        u, k = np.bincount(self.cluster, weights), float((weights**2).sum())
        mu = size * u - scaled @ (scaled.T @ u)
        trace = float(size.sum() - taken.sum() - (u @ u) / k)
        squares += float(-2 * (u @ mu) / k + (u @ u) ** 2 / k**2)
        free = len(residuals) - blocks - 1
        found, all_ = float((np.bincount(self.cluster, residuals) ** 2).sum()), float((residuals**2).sum())
        prior, weight = self.prior, PRIOR_CORRELATION_DF
        if all_ <= 0 or squares - trace <= 1e-9 * squares or free <= 0:
            return prior, 0.0
        g = found / all_
        below = squares - trace - g * trace + g * free
        own = (g * free - trace) / below if below > 1e-9 else 1.0
        df = trace**2 / squares if squares > 0 else 0.0
        return min(0.95, max(0.0, (weight * prior + df * min(own, 1.0)) / (weight + df))), df


def contrast(first, second, level):
    """The contacts of two arrangements in common blocks."""
    import numpy as np

    blocks = [{key_of(row, level) for row in rows} for rows in (first, second)]
    common = {key: place for place, key in enumerate(sorted(blocks[0] & blocks[1], key=str))}
    values, sides, block, cluster, names = [], [], [], [], {}
    for side, rows in ((True, first), (False, second)):
        for row in rows:
            place = common.get(key_of(row, level))
            if place is None:
                continue
            number = names.setdefault((side, row.stint), len(names))
            values += row.values
            sides += [side] * len(row.values)
            block += [place] * len(row.values)
            cluster += [number] * len(row.values)
    reason = "" if common else reason_apart(first, second)
    return Contrast(
        np.array(values, float), np.array(sides, bool), np.array(block, int), np.array(cluster, int),
        reason=reason,
    )


def reason_apart(first, second):
    """Why two arrangements share no block."""
    name = second[0].arrangement
    for place, word in enumerate(HELD[:MUST_HOLD]):
        if not {row.block[place] for row in first} & {row.block[place] for row in second}:
            return f"never used {WHERE[word]} as {name}: cannot be told apart"
    return f"never used on the same band and day as {name}: cannot be told apart"


def too_few(found):
    """The Told of a contrast that has too little to say anything; None where it has enough."""
    if found.reason:
        return Told(reason=found.reason)
    if not found.enough:
        return Told(reason=f"fewer than {LEAST_SHARED} contacts of each on the same band and day: too few to tell")
    return None


def mean_told(found, scores, confidence):
    """Mean difference of scores within blocks, weighted by mn/(m+n), with its t interval.

    sum c_i z_i / sum mn/(m+n); of shares this is the risk difference of Mantel and Haenszel (S. Greenland and J. M.
    Robins, Biometrics 41 (1985) 55-68).
    """
    from scipy.special import stdtr, stdtrit

    whole, weights = found.of_all, found.weights
    centred = found.centred(scores)
    value = float((weights * centred).sum()) / whole
    variance, df, rho = found.spread(found.centred(scores - found.first * value))
    if variance <= 0:
        return Told(reason="all values are the same: there is nothing to tell apart", correlation=rho)
    free = len(scores) - len(found.sizes[1])
    error = math.sqrt(variance * free / max(1, free - 1)) / whole  # the difference itself was taken out
    half = float(stdtrit(df, (1 + confidence) / 2)) * error
    p = 2 * float(stdtr(df, -abs(value) / error))
    return Told(value, value - half, value + half, p, error, df, len(scores), rho)


def more_contacts(told, reference, confidence):
    """More contacts of the clearest two that would tell them apart with 80 % power; 0 if told, None if very many."""
    from scipy.special import ndtri

    known = {name: one for name, one in told.items() if one.p is not None}
    if not known:
        return None
    lead = max(known, key=lambda name: abs(known[name].value) / known[name].error)
    one = known[lead]
    if one.p < 1 - confidence:
        return 0
    if abs(one.value) < 0.02 * one.error:
        return None
    wanted = (float(ndtri((1 + confidence) / 2)) + POWER_Z) * one.error / abs(one.value)
    more = math.ceil(one.shared * (wanted**2 - 1))
    return more if 0 < more <= MOST_CONTACTS else None


def verdict(table, reference, held, more, measure, say, confidence):
    """The plain sentence."""
    told = [row for row in table if row.arrangement != reference and row.difference is not None]
    if not told:
        others = "; ".join(f"{row.arrangement}: {row.reason}" for row in table if row.reason)
        return f"These cannot be compared yet. {others[:1].upper()}{others[1:]}."
    claims = [say(row, reference) for row in told if row.p_holm is not None and row.p_holm < 1 - confidence]
    if claims:
        return f"{'; '.join(claims)}{f', with {listed(held)} held fixed' if held else ''}."
    names = listed([row.arrangement for row in told])
    if more:
        return (f"The data cannot tell {names} from {reference} by {measure} yet; about {more} more contacts, in turns "
                "on the same band, would if the difference is what it looks like now.")
    return (f"The data cannot tell {names} from {reference} by {measure}; a difference this small would take very long "
            "to show.")
