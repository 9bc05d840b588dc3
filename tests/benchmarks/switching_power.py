"""Whether a fair test shows what its outlook promises, on simulated tests whose truth is known.

    python -m tests.benchmarks.switching_power [--tests 300] [--seed 1]

Blocks in random order, two to four arrangements of which one is better, contacts in gamma bursts (variance 1 to 4 times
the mean) over a band that changes from round to round; as many rounds as the outlook says that the ratio needs.
Printed: how often the comparison claims the right winner (80 % is promised), a wrong one, and how often its intervals
cover the truth.
"""

import argparse
import math

import numpy as np

from outings.evidence import comparison, switching

CASES = (  # contacts per hour of the slower, ratio, dispersion, minutes a block, arrangements
    (20, 2.0, 1.0, 10, 2), (20, 2.0, 2.5, 10, 2), (30, 1.5, 1.5, 10, 2), (40, 1.5, 4.0, 10, 2), (6, 2.0, 1.0, 10, 2),
    (10, 3.0, 1.0, 10, 2), (6, 3.0, 2.5, 15, 2), (60, 1.5, 1.0, 5, 2), (60, 2.0, 2.5, 15, 2), (20, 2.0, 1.0, 10, 3),
    (30, 2.0, 2.5, 10, 4),
)


def a_test(rng, case, truth):
    """The observations of one fair test, as long as the outlook says; `truth` is the ratio that it really has."""
    slower_per_h, ratio, dispersion, block_min, many = case
    names = "abcd"[:many]
    rounds = switching.rounds_needed(slower_per_h, ratio, block_min, dispersion, many)
    blocks = switching.plan(names, rounds * many * block_min, block_min, seed=int(rng.integers(2**31)))
    drift = rng.normal(0, 0.3, rounds)
    rows = []
    for number, block in enumerate(blocks):
        better = truth if block.arrangement == "a" else 1
        mean = slower_per_h * block_min / 60 * better * math.exp(drift[block.pair])
        burst = rng.gamma(mean / (dispersion - 1), dispersion - 1) if dispersion > 1.01 else mean
        rows.append(comparison.Observation(
            block.arrangement, int(rng.poisson(burst)), block_min / 60,
            ("outing", "20m", "SSB", int(block.start_min // 240)), f"{number}", f"{block.pair}",
        ))
    return rows


def judged(rows, truth):
    """Whether the right winner was named against the others, whether a wrong one, and what the intervals cover."""
    found = comparison.compare(rows)
    right = wrong = False
    covers = []
    for row in found.arrangements:
        if row.arrangement == found.reference:
            continue
        true = truth if row.arrangement == "a" else 1 / truth if found.reference == "a" else 1
        covers.append(row.ratio_low <= true <= (row.ratio_high or math.inf))
        if row.p_holm is not None and row.p_holm < 0.05:
            up = row.ratio is None or row.ratio > 1
            right |= true != 1 and up == (true > 1)
            wrong |= true == 1 or up != (true > 1)
    return right, wrong, covers


def main(arguments=None):
    parser = argparse.ArgumentParser()
    parser.add_argument("--tests", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    rng = np.random.default_rng(options.seed)
    print(f"{options.tests} tests each, seed {options.seed}")
    for case in CASES:
        slower_per_h, ratio, dispersion, block_min, many = case
        for truth in (ratio, 1.0):
            found = [judged(a_test(rng, case, truth), truth) for _ in range(options.tests)]
            right, wrong = (100 * np.mean([one[place] for one in found]) for place in (0, 1))
            covers = 100 * np.mean([holds for *_, all_ in found for holds in all_])
            blocks = many * switching.rounds_needed(slower_per_h, ratio, block_min, dispersion, many)
            claims = f"right {right:.0f} %, wrong {wrong:.1f} %" if truth != 1 else f"false claims {wrong:.1f} %"
            print(f"{slower_per_h}/h, planned for {ratio}, dispersion {dispersion}, {many} arrangements, {blocks} "
                  f"blocks of {block_min} min, truth {truth}: {claims}, covers {covers:.0f} %", flush=True)


if __name__ == "__main__":
    main()
