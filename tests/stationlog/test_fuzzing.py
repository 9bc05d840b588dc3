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
