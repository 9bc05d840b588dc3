"""How often the comparison's intervals hold, on simulated logs whose truth is known.

    python -m tests.benchmarks.comparison_coverage [--logs 1000] [--seed 1] [--baseline]
    python -m tests.benchmarks.comparison_coverage --grid [--logs 1000] [--seed 1] [--arrangements 2 4 6]

Each log is one operator's: 3 to 60 stints, 2 to 6 arrangements, contacts in gamma bursts (variance 1 to 5 times the
mean), effects of band, hour and site, and arrangements used more on the better or on the worse bands. Printed:
coverage of the ratios' nominal 95 % intervals, overall and by size; false claims at equal truth; how often adjusted and
raw point the wrong way where the truth is 1.5; wrongly named winners; logs without an answer. The grid takes each
number of arrangements with each size (from five stints on) and usage: even, sparse (1 to 5 contacts an hour), uneven.
"""

import argparse
import math
import sys
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from outings.evidence import comparison

BANDS = ("40m", "30m", "20m", "17m", "15m", "10m")
SIZES = ((3, 6), (7, 14), (15, 30), (31, 60))
PER_H, SPARSE_PER_H = (6, 40), (1, 5)  # contacts per hour
GRID = ((5, 6), *SIZES[1:])
USAGES = ("even", "sparse", "uneven")  # uneven: each arrangement half as often as the one before


def a_log(seed, truth, kinds=None, size=None, usage=""):
    """One simulated log and its true log rates; truth: "equal", "1.5" (first against all others) or "any".

    kinds: how many arrangements; size: from how many stints to how many; usage: of USAGES. Without them as they fall.
    """
    rng = np.random.default_rng(seed)
    low, high = size or SIZES[seed % len(SIZES)]
    stints = int(rng.integers(low, high + 1))
    kinds = kinds or int(rng.integers(2, min(6, max(2, stints // 2)) + 1))
    names = [f"arrangement {i + 1}" for i in range(kinds)]
    effects = {
        "equal": np.zeros(kinds),
        "1.5": np.array([math.log(1.5)] + [0.0] * (kinds - 1)),
        "any": rng.normal(0, 0.35, kinds),
    }[truth]
    dispersion = rng.uniform(1, 5)
    base = math.exp(rng.uniform(*np.log(SPARSE_PER_H if usage == "sparse" else PER_H)))
    often = 0.5 ** rng.permutation(kinds) if usage == "uneven" else np.ones(kinds)
    outings = max(1, round(stints / rng.uniform(3, 7)))
    site = rng.normal(0, 0.4, outings)
    bands = list(rng.choice(BANDS, int(rng.integers(1, 5)), replace=False))
    band = dict(zip(bands, rng.normal(0, 0.5, len(bands)), strict=True))
    hour = rng.normal(0, 0.35, 6)
    lean = rng.choice([-2.0, 0.0, 2.0])  # the better arrangements more on the worse bands, evenly, or on the better
    rows = []
    outing_of = np.sort(rng.integers(0, outings, stints))
    for outing in range(outings):
        mine = int((outing_of == outing).sum())
        at = rng.uniform(6, 14)
        for number in range(mine):
            here = bands[int(rng.integers(len(bands)))]
            quality = effects if truth == "1.5" else rng.permutation(effects)
            liking = np.exp(lean * band[here] * (np.argsort(np.argsort(quality)) / max(1, kinds - 1) - 0.5) * 2)
            kind = int(rng.choice(kinds, p=liking * often / (liking * often).sum()))
            hours = float(np.clip(rng.lognormal(math.log(0.6), 0.6), 0.1, 3))
            begun, left = at, hours
            part = 0
            while left > 1e-9:
                block = int(at // 4) % 6
                piece = min(left, 4 - at % 4)
                mean = piece * base * math.exp(effects[kind] + site[outing] + band[here] + hour[block])
                burst = rng.gamma(mean / (dispersion - 1), dispersion - 1) if dispersion > 1.01 else mean
                rows.append(comparison.Observation(
                    names[kind], int(rng.poisson(burst)), piece, (f"outing {outing}", here, "SSB", block),
                    f"{outing}/{number}/{begun:.3f}",
                ))
                at += piece
                left -= piece
                part += 1
            at += rng.uniform(0.02, 0.3)
    return rows, dict(zip(names, effects, strict=True)), stints, kinds


def an_unbalanced_log(seed):
    """Two arrangements, the first truly 1.5 times the other, each used mostly on one band: the better one on the worse
    band in half of the logs, on the better band in the other half; 3 to 12 outings of four to six stints."""
    rng = np.random.default_rng(seed)
    effects = np.array([math.log(1.5), 0.0])
    outings = int(rng.integers(3, 13))
    dispersion = rng.uniform(1, 5)
    base = math.exp(rng.uniform(math.log(6), math.log(40)))
    band = dict(zip(("20m", "40m"), (0.6, -0.6), strict=True))
    hour = rng.normal(0, 0.35, 6)
    adverse = seed % 2 == 0
    rows = []
    for outing in range(outings):
        site, at = rng.normal(0, 0.4), rng.uniform(6, 12)
        for number in range(int(rng.integers(4, 7))):
            kind = int(rng.integers(2))
            usual = ("40m", "20m") if adverse else ("20m", "40m")
            here = usual[kind] if rng.random() < 0.8 else usual[1 - kind]
            hours = float(np.clip(rng.lognormal(math.log(0.6), 0.6), 0.1, 3))
            block = int(at // 4) % 6
            mean = hours * base * math.exp(effects[kind] + site + band[here] + hour[block])
            burst = rng.gamma(mean / (dispersion - 1), dispersion - 1)
            rows.append(comparison.Observation(
                ("better", "other")[kind], int(rng.poisson(burst)), hours, (f"outing {outing}", here, "SSB", block),
                f"{outing}/{number}",
            ))
            at += hours + rng.uniform(0.02, 0.3)
    return rows, {"better": effects[0], "other": 0.0}, len(rows), 2


def shares_two_blocks(rows):
    """Does every arrangement share two blocks with another one?"""
    by = defaultdict(set)
    for row in rows:
        by[row.arrangement].add(row.block)
    return all(
        any(len(mine & theirs) >= 2 for other, theirs in by.items() if other != name) for name, mine in by.items()
    )


def baseline(rows):
    """Additive quasi-Poisson regression on outing, band and hour with t quantiles: name -> (log, low, high)."""
    import statsmodels.api as sm
    from scipy.stats import t

    names = sorted({row.arrangement for row in rows})
    hours = {name: sum(row.on_air_h for row in rows if row.arrangement == name) for name in names}
    reference = max(names, key=lambda name: (hours[name], name))
    columns = [np.ones(len(rows))]
    free = [name for name in names if name != reference]
    columns += [np.array([row.arrangement == name for row in rows], float) for name in free]
    for position in (0, 1, 3):
        for level in sorted({row.block[position] for row in rows}, key=str)[1:]:
            columns.append(np.array([row.block[position] == level for row in rows], float))
    x = np.column_stack(columns)
    df = len(rows) - np.linalg.matrix_rank(x)
    if df < 1:
        return reference, {}
    y = np.array([row.contacts for row in rows], float)
    try:
        fit = sm.GLM(y, x, sm.families.Poisson(), offset=np.log([row.on_air_h for row in rows])).fit(scale="X2")
    except Exception:
        return reference, {}
    found = {}
    for index, name in enumerate(free, 1):
        error = fit.bse[index]
        if not np.isfinite(error) or error > 20:
            continue
        half = t.ppf(0.975, df) * max(error, error / math.sqrt(max(fit.scale, 1e-9)) if fit.scale < 1 else error)
        found[name] = (fit.params[index], fit.params[index] - half, fit.params[index] + half)
    return reference, found


def judged(task):
    """Everything counted about one log."""
    seed, truth, with_baseline, *fixed = task
    rows, effects, stints, kinds = an_unbalanced_log(seed) if truth == "unbalanced" else a_log(seed, truth, *fixed)
    if len({row.arrangement for row in rows}) < 2:
        return None
    begun = time.perf_counter()
    answer = comparison.compare(rows, seed=seed)
    took = time.perf_counter() - begun
    told = {}
    for row in answer.arrangements:
        if row.arrangement == answer.reference:
            continue
        told[row.arrangement] = (row.ratio, row.ratio_low, row.ratio_high, row.p_holm)
    raw = {row.arrangement: row.rate_per_h for row in answer.arrangements}
    base = baseline(rows) if with_baseline else None
    return seed, truth, stints, kinds, effects, answer.reference, told, raw, shares_two_blocks(rows), took, base


def log_ratio(ratio):
    return -math.inf if ratio == 0 else math.log(ratio)


def covering(result):
    """Whether each interval of a log covers, and whether anything was claimed."""
    _, _, _, _, effects, reference, told, *_ = result
    covered = [
        log_ratio(low) <= effects[name] - effects[reference] <= (math.inf if high is None else log_ratio(high))
        for name, (_, low, high, _) in told.items() if low is not None
    ]
    return covered, any(p is not None and p < 0.05 for *_, p in told.values())


def grid(pool, options):
    """Coverage, and false claims at equal truth, by arrangements, usage and size; half of the logs at equal truth."""
    print(f"{options.logs} logs a cell, seed {options.seed}: coverage of nominal 95 %, false claims after Holm")
    for kinds in options.arrangements:
        for usage in USAGES:
            line = []
            for size in GRID:
                tasks = [(options.seed * 1_000_003 + i, ("equal", "any")[i % 2], False, kinds, size, usage)
                         for i in range(options.logs)]
                results = [r for r in pool.map(judged, tasks, chunksize=20) if r]
                found = [(result[1], *covering(result)) for result in results]
                covered = [one for _, all_, _ in found for one in all_]
                claims = [claim for truth, _, claim in found if truth == "equal"]
                line.append(f"{size[0]}-{size[1]} stints {100 * np.mean(covered):5.1f} % of {len(covered)}, claims "
                            f"{100 * np.mean(claims):.1f} %")
            print(f"{kinds} arrangements, {usage:6} {'; '.join(line)}", flush=True)


def main(arguments=None):
    parser = argparse.ArgumentParser()
    parser.add_argument("--logs", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--baseline", action="store_true")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--grid", action="store_true")
    parser.add_argument("--arrangements", type=int, nargs="+", default=(2, 4, 6))
    options = parser.parse_args(arguments)
    if options.grid:
        with ProcessPoolExecutor(options.processes) as pool:
            return grid(pool, options)
    tasks = []
    for truth in ("equal", "1.5", "any", "unbalanced"):
        tasks += [(options.seed * 1_000_003 + i, truth, options.baseline) for i in range(options.logs // 4 + 1)]
    with ProcessPoolExecutor(options.processes) as pool:
        results = [r for r in pool.map(judged, tasks, chunksize=20) if r]
    covered, size_cell, kind_cell = [], defaultdict(list), defaultdict(list)
    wrong, raw_wrong, wrong_winner, false_claim, none, took = [], [], [], [], [], []
    base_cover, base_wrong, base_false, sides = [], [], [], [0, 0]
    for _, truth, stints, kinds, effects, reference, told, raw, shared, seconds, base in results:
        took.append(seconds)
        if shared:
            none.append(any(low is None for _, low, _, _ in told.values()))
        claims = False
        named_wrong = False
        for name, (ratio, low, high, p) in told.items():
            true = effects[name] - effects[reference]
            if low is None:
                continue
            below = log_ratio(low) > true
            above = high is not None and log_ratio(high) < true
            sides[0] += below
            sides[1] += above
            covered.append(not below and not above)
            cell = next(f"{a}-{b}" for a, b in SIZES if stints <= b or b == SIZES[-1][1])
            size_cell[cell].append(covered[-1])
            kind_cell[kinds].append(covered[-1])
            claims |= p is not None and p < 0.05
            if truth == "unbalanced" and ratio is not None:
                wrong.append((log_ratio(ratio) > 0) != (true > 0))
                crude = raw[name] / raw[reference] if raw[reference] else math.inf
                raw_wrong.append((crude > 1) != (true > 0))
            if true != 0 and ((low > 1 and true < 0) or (high is not None and high < 1 and true > 0)):
                named_wrong = True
        if truth == "equal":
            false_claim.append(claims)
        else:
            wrong_winner.append(named_wrong)
        if base:
            any_false = False
            for name, (value, low, high) in base[1].items():
                true = effects[name] - effects[base[0]]
                base_cover.append(low <= true <= high)
                any_false |= low > 0 or high < 0
                if truth == "unbalanced":
                    base_wrong.append((value > 0) != (true > 0))
            if truth == "equal":
                base_false.append(any_false)

    def share(values):
        return f"{100 * np.mean(values):5.1f} % of {len(values)}" if values else "none"

    print(f"logs {len(results)}, seed {options.seed}")
    print(f"coverage               {share(covered)}   (misses below {sides[0]}, above {sides[1]})")
    for cell in [f"{a}-{b}" for a, b in SIZES]:
        print(f"  {cell:>6} stints        {share(size_cell[cell])}")
    for kinds in sorted(kind_cell):
        print(f"  {kinds} arrangements      {share(kind_cell[kinds])}")
    print(f"false claims (Holm)    {share(false_claim)}")
    print(f"wrong way, unbalanced  {share(wrong)}; raw {share(raw_wrong)}")
    print(f"wrong winner named     {share(wrong_winner)}")
    print(f"no answer where shared {share(none)}")
    middle, slow = 1000 * np.median(took), 1000 * np.quantile(took, 0.95)
    print(f"median time            {middle:.0f} ms, 95th percentile {slow:.0f} ms")
    if options.baseline:
        print(f"baseline: coverage {share(base_cover)}, any false {share(base_false)}, wrong way {share(base_wrong)}")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
