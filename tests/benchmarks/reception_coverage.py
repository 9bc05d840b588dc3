"""How often the intervals of paired reception reports hold, on simulated switches whose truth is known.

    python -m tests.benchmarks.reception_coverage [--tests 2000] [--seed 1]

Each test: 3 to 20 switches between two arrangements every five to ten minutes, 3 to 25 receivers that report now and
then, each with its own level, its own liking for an arrangement (directions: 0 to 4 dB), a band that fades and drifts
(0 to 3 dB a switch) and rounded reports. Printed: coverage of the nominal 95 % intervals by switches and by receivers,
false claims at equal truth, tests without an answer.
"""

import argparse
from collections import defaultdict

import numpy as np

from outings.evidence import reception

SWITCHES = ((3, 5), (6, 10), (11, 20))


def a_test(seed):
    """Reports of one test and the true difference in dB."""
    rng = np.random.default_rng(seed)
    low, high = SWITCHES[seed % len(SWITCHES)]
    blocks = int(rng.integers(low, high + 1)) + 1
    receivers = int(rng.integers(3, 26))
    truth = 0.0 if seed % 2 else rng.normal(0, 3)
    level, liking = rng.normal(-10, 6, receivers), rng.normal(0, rng.uniform(0, 4), receivers)
    fading, noise = rng.uniform(0, 3), rng.uniform(1, 3)
    block_s, heard, drift = 60 * rng.uniform(5, 10), [], 0.0
    for block in range(blocks):
        first = block % 2 == 0
        drift += rng.normal(0, fading)
        own = rng.normal(0, fading / 2)
        for receiver in range(receivers):
            if rng.random() < 0.25:
                continue
            for _ in range(int(rng.integers(1, 3))):
                snr = level[receiver] + (truth + liking[receiver] if first else 0) + drift + own + rng.normal(0, noise)
                heard.append(reception.Heard(
                    "first" if first else "second", f"R{receiver}", "20m", (block + rng.random()) * block_s, f"{block}",
                    float(np.round(snr)),
                ))
    return heard, truth, blocks - 1, receivers


def main(arguments=None):
    parser = argparse.ArgumentParser()
    parser.add_argument("--tests", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    covered, by_switches, by_receivers, false, none = [], defaultdict(list), defaultdict(list), [], []
    for i in range(options.tests):
        heard, truth, switches, receivers = a_test(options.seed * 1_000_003 + i)
        answer = reception.compare(heard)
        row = next(row for row in answer.arrangements if row.arrangement != answer.reference)
        none.append(row.difference is None)
        if row.difference is None:
            continue
        true = truth if row.arrangement == "first" else -truth
        covered.append(row.difference_low <= true <= row.difference_high)
        by_switches[next(f"{a}-{b}" for a, b in SWITCHES if switches <= b)].append(covered[-1])
        by_receivers["3-8" if receivers < 9 else "9-25"].append(covered[-1])
        if not truth:
            false.append(row.p_holm < 0.05)
    cells = [f"{name} {kind} {100 * np.mean(held):.1f}" for kind, found in (
        ("switches", by_switches), ("receivers", by_receivers)
    ) for name, held in found.items()]
    print(f"coverage {100 * np.mean(covered):.1f} % of {len(covered)} ({', '.join(cells)}); "
          f"false claims {100 * np.mean(false):.1f} % of {len(false)}; no answer {100 * np.mean(none):.1f} %")


if __name__ == "__main__":
    main()
