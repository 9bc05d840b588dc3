"""Whether a fair test shows what its outlook promises, on simulated tests whose truth is known.

    python -m tests.benchmarks.switching_power [--tests 300] [--seed 1]

Blocks of ten minutes in random order, two arrangements, contacts in gamma bursts (variance 1 to 4 times the mean) over
a band that changes from round to round; as long as the outlook says that the ratio needs. Printed: how often the
comparison claims the right winner (80 % is promised), the wrong one, and how often its interval covers the truth.
"""

import argparse
import math

import numpy as np

from outings.evidence import comparison, switching


def a_test(rng, slower_per_h, ratio, dispersion, truth):
    """The observations of one fair test, as long as the outlook says; `truth` is the ratio that it really has."""
    each = switching.minutes_each(slower_per_h, ratio, dispersion)
    blocks = switching.plan(("a", "b"), 2 * 10 * math.ceil(each / 10), 10, seed=int(rng.integers(2**31)))
    rounds = {pair: rng.normal(0, 0.3) for pair in {block.pair for block in blocks}}
    rows = []
    for number, block in enumerate(blocks):
        mean = slower_per_h / 6 * (truth if block.arrangement == "a" else 1) * math.exp(rounds[block.pair])
        burst = rng.gamma(mean / (dispersion - 1), dispersion - 1) if dispersion > 1.01 else mean
        rows.append(comparison.Observation(
            block.arrangement, int(rng.poisson(burst)), 1 / 6, ("outing", "20m", "SSB", number // 24), f"{number}",
            f"{block.pair}",
        ))
    return rows


def main(arguments=None):
    parser = argparse.ArgumentParser()
    parser.add_argument("--tests", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    rng = np.random.default_rng(options.seed)
    for slower_per_h, ratio, dispersion in ((20, 2.0, 1.0), (20, 2.0, 2.5), (30, 1.5, 1.5), (40, 1.5, 4.0)):
        for truth in (ratio, 1.0):
            right = wrong = covers = 0
            for _ in range(options.tests):
                rows = a_test(rng, slower_per_h, ratio, dispersion, truth)
                found = comparison.compare(rows)
                row = next(row for row in found.arrangements if row.arrangement != found.reference)
                true = truth if row.arrangement == "a" else 1 / truth
                claimed = row.p_holm is not None and row.p_holm < 0.05
                right += claimed and (row.ratio > 1) == (true > 1)
                wrong += claimed and (row.ratio > 1) != (true > 1)
                covers += row.ratio_low <= true <= (row.ratio_high or math.inf)
            share = 100 / options.tests
            claims = f"right {right * share:.0f} %, wrong {wrong * share:.1f} %" if truth != 1 else (
                f"false claims {(right + wrong) * share:.1f} %"
            )
            print(f"{slower_per_h}/h, planned for {ratio}, dispersion {dispersion}, {len(rows)} blocks, truth {truth}: "
                  f"{claims}, covers {covers * share:.0f} %", flush=True)


if __name__ == "__main__":
    main()
