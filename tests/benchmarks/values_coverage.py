"""How often the intervals of distances, reports and shares hold, on simulated logs whose truth is known.

    python -m tests.benchmarks.values_coverage [--logs 1000] [--seed 1]

Each log: 2 to 20 outings of two to six stints with one of two to four arrangements each, bands with their own usual
distances, contacts whose distances are skewed (log-normal on top of a shift) and resemble each other within a stint
(correlation 0 to 0.3). Printed: coverage of the nominal 95 % intervals by number of stints, false claims at equal
truth, logs without an answer.
"""

import argparse
import math
import sys
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from outings.evidence import reach, reports, strata

SIZES = ((4, 10), (11, 25), (26, 60))
LIMIT_KM = 1500.0


def a_log(seed, equal, kind):
    """Samples of one log and the true shifts; kind: "km" or "dB"."""
    rng = np.random.default_rng(seed)
    low, high = SIZES[seed % len(SIZES)]
    stints = int(rng.integers(low, high + 1))
    outings = max(1, round(stints / rng.uniform(2.5, 6)))
    kinds = int(rng.integers(2, min(4, max(2, stints // 3)) + 1))
    names = [f"arrangement {i + 1}" for i in range(kinds)]
    scale = 250.0 if kind == "km" else 4.0
    shifts = np.zeros(kinds) if equal else rng.normal(0, scale, kinds)
    rho = rng.uniform(0, 0.3)
    bands = dict(zip(("40m", "20m", "15m"), (700.0, 1600.0, 2600.0), strict=True))
    samples = []
    for number, outing in enumerate(np.sort(rng.integers(0, outings, stints))):
        arrangement = int(rng.integers(kinds))
        band = list(bands)[int(rng.integers(3 if stints > 10 else 2))]
        hour = int(rng.integers(2)) if stints > 25 else 0
        contacts = int(rng.poisson(rng.gamma(2.0, 6.0)))
        common = rng.normal() * math.sqrt(rho)
        own = rng.normal(size=contacts) * math.sqrt(1 - rho)
        day = np.random.default_rng((seed, int(outing))).normal()
        if kind == "km":
            usual = bands[band] * np.exp(0.25 * day + 0.2 * hour)
            values = usual * np.exp(0.6 * (common + own)) + 800 + shifts[arrangement]
        else:
            values = np.round(2 * day + 6 * (common + own) + shifts[arrangement])
        block = (f"outing {outing}", band, "SSB", hour)
        samples.append(strata.Sample(names[arrangement], tuple(values), block, f"{number}"))
    return samples, dict(zip(names, shifts, strict=True)), stints


MEASURES = {
    "shift of the distances": ("km", reach.compare_distances),
    "share beyond, equal truth": ("km", lambda samples: reach.compare_beyond(samples, LIMIT_KM)),
    "shift of the upper tenth": ("km", reach.compare_upper_tenth),
    "mean difference of reports": ("dB", reports.compare_reports),
}


def judged(task):
    """The measure, the stints, whether each interval covers, the claims, and the time."""
    name, seed, equal = task
    kind, compare = MEASURES[name]
    samples, truth, stints = a_log(seed, equal, kind)
    begun = time.perf_counter()
    try:
        answer = compare(samples)
    except strata.NothingToCompare:
        return None
    took = time.perf_counter() - begun
    found = []
    for row in answer.arrangements:
        if row.arrangement != answer.reference:
            true = truth[row.arrangement] - truth[answer.reference]
            known = row.difference_low is not None and row.difference_high is not None
            found.append((known, known and row.difference_low <= true <= row.difference_high,
                          row.p_holm is not None and row.p_holm < 0.05, row.indirect))
    return name, stints, equal, found, took


def main(arguments=None):
    parser = argparse.ArgumentParser()
    parser.add_argument("--logs", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--only", default="")
    options = parser.parse_args(arguments)
    tasks = [
        (name, options.seed * 1_000_003 + i, "equal" in name or bool(i % 2))
        for name in MEASURES if options.only in name for i in range(options.logs)
    ]
    with ProcessPoolExecutor(options.processes) as pool:
        results = [r for r in pool.map(judged, tasks, chunksize=20) if r]
    for name in MEASURES:
        cells, covered, false, none, took, indirect = defaultdict(list), [], [], [], [], []
        for measure, stints, equal, found, seconds in results:
            if measure != name:
                continue
            took.append(seconds)
            for known, holds, _, by_way in found:
                none.append(not known)
                if known:
                    covered.append(holds)
                    if by_way:
                        indirect.append(holds)
                    cells[next(f"{a}-{b}" for a, b in SIZES if stints <= b)].append(holds)
            if equal:
                false.append(any(claim for _, _, claim, _ in found))
        if not covered:
            continue
        names = [name for name in (f"{a}-{b}" for a, b in SIZES) if cells[name]]
        by_size = ", ".join(f"{cell} stints {100 * np.mean(cells[cell]):.1f}" for cell in names)
        print(f"{name:28} {100 * np.mean(covered):5.1f} % of {len(covered)} ({by_size}); false claims "
              f"{100 * np.mean(false):.1f} % of {len(false)}; no answer {100 * np.mean(none):.0f} %; "
              f"by way of others {100 * np.mean(indirect) if indirect else 0:.1f} % of {len(indirect)}; "
              f"median {1000 * np.median(took):.0f} ms")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
