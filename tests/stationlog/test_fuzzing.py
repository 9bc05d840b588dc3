"""Rubbish at every door: a small seeded part of what tests/benchmarks/fuzzing.py tries at length."""

import itertools

import pytest

from tests import fuzzing

EACH = 120


@pytest.mark.parametrize("name", fuzzing.TARGETS)
def test_rubbish_is_read_or_refused_in_words_and_in_time(name):
    outcomes = [fuzzing.tried(name, data) for data in itertools.islice(fuzzing.inputs(name, 1), EACH)]
    assert len(outcomes) == EACH


@pytest.mark.parametrize("name", fuzzing.TARGETS)
def test_the_files_that_it_begins_with_are_read(name):
    for data in fuzzing.TARGETS[name][0]():
        assert fuzzing.tried(name, data)


def test_the_same_seed_gives_the_same_inputs():
    first, again, other = (list(itertools.islice(fuzzing.inputs("ADI", seed), 20)) for seed in (1, 1, 2))
    assert first == again != other


@pytest.mark.parametrize(("name", "data"), [
    ("sweeps", b"freq,R,X\n7000000,42.1,-11\n7" + b"10000" * 10_000 + b"x,55.2,14\n"),
    ("pack logs", b"time,volts,amps\n0,13.1,1\n" + b"9" * 50_000 + b"x,13.0,1\n"),
    ("reception reports", b"time,receiver,frequency,snr\n1300,Q1ABC,14.1,-3\n1301,Q1ABC," + b"1" * 50_000 + b"x,-3\n"),
    ("sweeps", b"s11db" * 8_000 + b",R,X\n7000000,42.1,-11\n7100000,42,3\n"),
], ids=["a long number", "a long time", "a long frequency", "a long name"])
def test_what_once_took_time_with_the_square_of_its_length_is_quick(name, data):
    fuzzing.tried(name, data)
