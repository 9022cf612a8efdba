"""What is tried after what: smaller steps against divergences, more chains against all else."""

import pytest

from model.inference.attempts import Attempt, first_attempt, max_depth, next_attempt
from model.inference.settings import DEFAULT_SETTINGS
from model.posterior.posterior import FitCheck

FEW = "too few effective draws: 300 (at least 400)"


def check(divergences: int, *others: str) -> FitCheck:
    reasons = (f"{divergences} divergent draws",) * (divergences > 0) + others
    return FitCheck(
        status="failed", reasons=reasons, divergences=divergences,
        rhat_max=1.0, bfmi_min=1.0, ess_bulk_min=500, ess_tail_min=500,
    )  # fmt: skip


def at(length: int, target: float, runs: int) -> Attempt:
    return Attempt(length=length, target_accept=target, runs=runs)


FIRST = first_attempt(DEFAULT_SETTINGS)
CASES = {
    "too few draws": (FIRST, check(0, FEW), at(1, 0.9, 2)),
    "still too few": (at(1, 0.9, 2), check(0, FEW), at(1, 0.9, 4)),
    "too few to the end": (at(1, 0.9, 4), check(0, FEW), None),
    "divergent": (FIRST, check(3), at(1, 0.97, 1)),
    "divergent and too few": (FIRST, check(3, FEW), at(1, 0.97, 1)),
    "divergent among more chains": (at(1, 0.9, 4), check(1), at(1, 0.97, 1)),
    "divergent again": (at(1, 0.97, 1), check(1), at(2, 0.99, 1)),
    "too few at somewhat smaller steps": (at(1, 0.97, 1), check(0, FEW), at(1, 0.97, 2)),
    "divergent at smaller steps": (at(2, 0.99, 1), check(1), at(2, 0.998, 1)),
    "divergent and worse at smaller steps": (at(2, 0.99, 1), check(1, FEW), None),
    "too few at smaller steps": (at(2, 0.99, 1), check(0, FEW), at(2, 0.99, 2)),
    "divergent to the end": (at(2, 0.998, 1), check(1), None),
}


@pytest.mark.parametrize("name", CASES)
def test_what_comes_next(name):
    last, found, expected = CASES[name]
    assert next_attempt(DEFAULT_SETTINGS, last, found) == expected


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case[2] is not None])
def test_only_runs_at_the_same_steps_are_kept(name):
    last, _, expected = CASES[name]
    assert expected.goes_on_from(last) == (expected.runs > last.runs)
    assert not expected.goes_on_from(None)


def test_smaller_steps_may_go_on_for_more_doublings():
    targets = (0.9, 0.97, 0.99, 0.998)
    assert [max_depth(DEFAULT_SETTINGS, at(1, target, 1)) for target in targets] == [6, 7, 8, 9]
