"""A long run of rubbish at every door that takes files, requests or typed words from outside.

    python -m tests.benchmarks.fuzzing --inputs 200000 --seed 1

Prints for each how many were read and how many refused in words, and stops at the first finding with the input.
"""

import argparse
import itertools
import os
import time

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")


def main():
    import django

    django.setup()
    from tests import fuzzing

    options = argparse.ArgumentParser()
    options.add_argument("--inputs", type=int, default=200_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", choices=list(fuzzing.TARGETS))
    chosen = options.parse_args()
    names = [chosen.only] if chosen.only else list(fuzzing.TARGETS)
    each = -(-chosen.inputs // len(names))
    for name in names:
        began, read = time.perf_counter(), 0
        for data in itertools.islice(fuzzing.inputs(name, chosen.seed), each):
            read += fuzzing.tried(name, data)
        took_s = time.perf_counter() - began
        print(f"{name}: {each} inputs, {read} read, {each - read} refused, {took_s:.0f} s", flush=True)


if __name__ == "__main__":
    main()
