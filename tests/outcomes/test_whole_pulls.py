"""All that can become of one pull: its probabilities sum to 1, re-sets and all."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from model.arrays import campaign_arrays as arrays_module
from model.arrays.campaign_arrays import campaign_arrays
from model.arrays.ranges import next_bite_range
from model.outcomes import terms
from model.outcomes.likelihood import log_camera, log_likelihood
from model.records.pull import Bite, Ending

LADDER_KN = (1.0, 2.0, 3.0)
DEPTH = 14
"""Bites followed; from the fourth on every one ends in the final hold, each time less likely."""

TRUTH = {
    "sets_base": 1.0,
    "load_base": np.log(2.2),
    "mode_gap": 0.5,
    "upright_base": 0.3,
    "later_bite_upright": 0.7,
    "later_bite_load": 0.1,
    "log_scatter": np.log([0.25, 0.35]),
    "pull_load_scale": 0.15,
    "gauge_scatter": 0.03,
    "boat_bias": 0.02,
    "resets_base": 0.8,
    "hold_exponent": 0.04,
    "spoilt_share": 0.03,
}


@pytest.fixture
def bench(make_bench):
    return make_bench(*LADDER_KN)


def _ways_to_end(make_bite, number: int, start_kn: float) -> Iterator[Bite]:
    for load_kn in LADDER_KN:
        if load_kn > start_kn:
            yield make_bite("released", load_kn, number)
    yield make_bite("released", LADDER_KN[-1], number, held_s=60.0)
    yield make_bite("held", LADDER_KN[-1], number, held_s=60.0)


def _courses(make_bite, before: tuple[Bite, ...] = ()) -> Iterator[tuple[Bite, ...]]:
    """Every row of bites, up to a depth; a release at the end stands for no re-set seen."""
    start_kn = before[-1].load_kn if before else 0.0
    for bite in _ways_to_end(make_bite, len(before) + 1, start_kn):
        course = (*before, bite)
        yield course
        if bite.ending is Ending.RELEASED and len(course) < DEPTH:
            yield from _courses(make_bite, course)


def _total(bench, make_bite, plain_parameters, **changed: float) -> float:
    courses = [*_courses(make_bite), (make_bite("never_set"),)]
    pulls = [bench.pull(str(i), *course) for i, course in enumerate(courses)]
    arrays = campaign_arrays(bench.campaign, pulls)
    return float(
        np.exp(log_likelihood(plain_parameters(arrays, **{**TRUTH, **changed}), arrays)).sum()
    )


def test_all_that_can_become_of_a_pull_has_probability_one(bench, make_bite, plain_parameters):
    total = _total(bench, make_bite, plain_parameters, pull_load_scale=0.0)
    assert total == pytest.approx(1.0, abs=1e-12)


def test_a_pull_effect_leaves_no_more_than_the_quadratures_error(
    bench, make_bite, plain_parameters, monkeypatch
):
    # A bite alone in its pull needs no nodes: its share is exact, that of the others is not.
    assert 1e-7 < abs(_total(bench, make_bite, plain_parameters) - 1) < 1e-5
    monkeypatch.setattr(terms, "NODES", 61)
    assert _total(bench, make_bite, plain_parameters) == pytest.approx(1.0, abs=1e-12)


def test_no_reset_taken_for_no_digging_in_at_all_loses_some(
    bench, make_bite, plain_parameters, monkeypatch
):
    # The untruncated form: a release with no re-set says 1 - P(re-set), whatever the thrust.
    monkeypatch.setattr(arrays_module, "next_bite_range", lambda _: next_bite_range(0.0))
    assert _total(bench, make_bite, plain_parameters) < 0.95


def test_a_later_bite_that_starts_at_nothing_counts_some_twice(
    bench, make_bite, plain_parameters, monkeypatch
):
    true_range = arrays_module.capacity_range

    def from_nothing(bite, ladder, start_kn, top_kn):
        found = true_range(bite, ladder, start_kn, top_kn)
        return replace(found, lower_kn=0.0) if found.lower_kn == start_kn else found

    monkeypatch.setattr(arrays_module, "capacity_range", from_nothing)
    assert _total(bench, make_bite, plain_parameters) > 1.02


def test_what_a_camera_shows_sums_to_one_in_either_mode(bench, make_bite, plain_parameters):
    arrays = bench.arrays([make_bite("held", 3.0)])
    changed = {"not_seen_base": 0.4, "not_seen_difference": 1.1, "seen_upright_rate": 0.9}
    parameters = plain_parameters(arrays, **changed)
    for mode in (0, 1):
        by_code = np.exp(log_camera(parameters, np.arange(4), mode))[0]
        assert by_code[0] == 1.0  # no camera: nothing could be seen
        assert by_code[1:].sum() == pytest.approx(1.0)
    # A camera is lost more often when the anchor goes deep.
    lost = [np.exp(log_camera(parameters, np.array([1]), mode))[0, 0] for mode in (0, 1)]
    assert lost[0] > lost[1]
