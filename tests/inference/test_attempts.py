"""What is tried after what: smaller steps against divergences, longer chains against all else."""

from dataclasses import replace

import pytest

from model.inference.attempts import Attempt, first_attempt, max_depth, next_attempt, tune
from model.inference.settings import Settings
from model.posterior.posterior import FitCheck

FEW = "too few effective draws: 300 (at least 400)"
SETTINGS = Settings(targets=(0.9, 0.97, 0.99, 0.998), lengths=(1, 3, 9), max_depth=6, tune=200)


def check(divergences: int, *others: str) -> FitCheck:
    reasons = (f"{divergences} divergent draws",) * (divergences > 0) + others
    return FitCheck(
        status="failed", reasons=reasons, divergences=divergences,
        rhat_max=1.0, bfmi_min=1.0, ess_bulk_min=500, ess_tail_min=500,
    )  # fmt: skip


def at(length: int, target: float, number: int = 0) -> Attempt:
    return Attempt(length=length, target_accept=target, number=number)


CASES = {
    "too few draws": (at(1, 0.9), check(0, FEW), at(3, 0.97)),
    "still too few": (at(3, 0.97), check(0, FEW), at(9, 0.97)),
    "too few to the end": (at(9, 0.97), check(0, FEW), None),
    "divergent": (at(1, 0.9), check(3), at(1, 0.97)),
    "divergent again": (at(1, 0.97), check(1), at(1, 0.99)),
    "divergent once more": (at(1, 0.99), check(1), at(1, 0.998)),
    "divergent to the end": (at(1, 0.998), check(1), None),
    "divergent and too few": (at(1, 0.9), check(3, FEW), at(3, 0.97)),
    "too few at smaller steps": (at(1, 0.99), check(0, FEW), at(3, 0.99)),
    "both in longer chains": (at(3, 0.97), check(1, FEW), at(9, 0.99)),
    "divergent in the longest": (at(9, 0.97), check(1), at(9, 0.99)),
    "the longest take no smallest steps": (at(9, 0.99), check(1), None),
    "nor where shorter ones did": (at(3, 0.998), check(0, FEW), None),
}


def test_the_first_is_the_shortest_at_the_largest_steps():
    assert first_attempt(SETTINGS) == at(1, 0.9)


@pytest.mark.parametrize("name", CASES)
def test_what_comes_next(name):
    last, found, expected = CASES[name]
    following = next_attempt(SETTINGS, last, found)
    assert following == (expected and replace(expected, number=1))


def test_every_way_through_ends_and_none_takes_the_longest_chains_at_the_smallest_steps():
    reached, waiting = set(), [first_attempt(SETTINGS)]
    while waiting:
        last = waiting.pop()
        reached.add((last.length, last.target_accept))
        for found in (check(1), check(0, FEW), check(1, FEW)):
            following = next_attempt(SETTINGS, last, found)
            if following is not None:
                assert following.number == last.number + 1 < 8
                assert following.length >= last.length
                assert following.target_accept >= last.target_accept
                waiting.append(following)
    assert (9, 0.99) in reached
    assert (9, 0.998) not in reached


def test_where_one_target_is_given_longer_chains_keep_it():
    settings = Settings(targets=(0.9,), lengths=(1, 3))
    assert next_attempt(settings, at(1, 0.9), check(0, FEW)) == at(3, 0.9, number=1)
    assert next_attempt(settings, at(1, 0.9), check(1)) is None


def test_smaller_steps_may_go_on_for_more_doublings():
    assert [max_depth(SETTINGS, at(1, target)) for target in SETTINGS.targets] == [6, 7, 8, 9]


def test_long_chains_warm_up_twice_as_long_at_most():
    assert [tune(SETTINGS, at(length, 0.9)) for length in SETTINGS.lengths] == [200, 400, 400]
