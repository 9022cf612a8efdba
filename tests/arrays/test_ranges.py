"""What range of load each way of ending a bite tells of."""

from itertools import pairwise
from math import inf, log

import pytest

from model.arrays import ranges
from model.arrays.ranges import CapacityRange, capacity_range, next_bite_range

TOP_THRUST_KN = 5.0


def _ends(found: CapacityRange) -> tuple[float, float]:
    return found.lower_kn, found.upper_kn


def _log_holds(found: CapacityRange) -> tuple[float, float]:
    return found.lower_log_hold, found.upper_log_hold


LET_GO = {
    # Loads of a fresh bite that let go at a step: from the step below, 0 below the first.
    "at the first step": (0.5, {}, (0.0, 0.5), 1 / 6),
    "at a middle step": (3.0, {}, (2.0, 3.0), 1 / 6),
    "at the top step": (4.5, {}, (3.0, 4.5), 1 / 6),
    "at the top step, within its dwell": (4.5, {"held_s": 15.0}, (3.0, 4.5), 1 / 6),
    "two steps above the last held": (3.0, {"last_held_kn": 1.0}, (1.0, 3.0), 2 / 6),
    "having held none": (3.0, {"last_held_kn": 0.0}, (0.0, 3.0), 4 / 6),
}


@pytest.mark.parametrize("case", LET_GO)
def test_a_step_says_from_the_step_below_to_the_step(case, ladder, make_bite):
    load_kn, more, ends, share = LET_GO[case]
    for ending in ("released", "released_then_stopped"):
        found = capacity_range(make_bite(ending, load_kn, **more), ladder, 0.0, TOP_THRUST_KN)
        assert (_ends(found), _log_holds(found)) == (ends, (0.0, 0.0))
        assert found.spoilt_share == pytest.approx(share)


def test_a_release_in_the_final_hold_says_at_most_so_much_above_the_top(ladder, make_bite):
    bite = make_bite("released", 4.5, held_s=40.0)
    found = capacity_range(bite, ladder, 0.0, TOP_THRUST_KN)
    assert (_ends(found), _log_holds(found)) == ((4.5, 4.5), (0.0, log(40 / 15)))
    # On a lower step a long hold is no final hold: it let go between this step and the one below.
    lower = capacity_range(make_bite("released", 3.0, held_s=40.0), ladder, 0.0, TOP_THRUST_KN)
    assert (_ends(lower), _log_holds(lower)) == ((2.0, 3.0), (0.0, 0.0))


def test_held_says_above_the_top_for_so_long_and_cannot_be_spoilt(ladder, make_bite):
    found = capacity_range(make_bite("held", 4.5, held_s=45.0), ladder, 0.0, TOP_THRUST_KN)
    assert (_ends(found), _log_holds(found)) == ((4.5, inf), (log(3), 0.0))
    assert found.spoilt_share == 0.0
    whole = capacity_range(make_bite("held", 4.5), ladder, 0.0, TOP_THRUST_KN)
    assert whole.lower_log_hold == log(60 / 15)  # the ladder's own hold where none is written
    short = capacity_range(make_bite("held", 4.5, held_s=5.0), ladder, 0.0, TOP_THRUST_KN)
    assert short.lower_log_hold == 0.0  # never easier than one dwell


STOPPED = {
    "after a step": (2.0, {}, (2.0, inf), 3 / 6),
    "before any step": (None, {}, (0.0, inf), 1.0),
    "before any step, the last held named": (None, {"last_held_kn": 1.0}, (1.0, inf), 4 / 6),
}


@pytest.mark.parametrize("case", STOPPED)
def test_stopped_says_above_the_last_step_held(case, ladder, make_bite):
    load_kn, more, ends, share = STOPPED[case]
    bite = make_bite("stopped", load_kn, **more)
    found = capacity_range(bite, ladder, 0.0, TOP_THRUST_KN)
    assert (_ends(found), found.spoilt_share) == (ends, pytest.approx(share))


def test_a_peak_says_its_resolution_around_the_reading(ladder, make_bite):
    bite = make_bite("released", 2.3, reading="peak", resolution_kn=0.1)
    found = capacity_range(bite, ladder, 0.0, TOP_THRUST_KN)
    assert _ends(found) == pytest.approx((2.25, 2.35))
    assert found.spoilt_share == pytest.approx(0.1 / TOP_THRUST_KN)
    without = make_bite("released", 2.0, reading="peak")
    assert _ends(capacity_range(without, ladder, 0.0, 5.0)) == pytest.approx((1.99, 2.01))


def test_an_old_sheet_without_a_ladder_says_its_value_and_resolution(make_bite):
    bite = make_bite("released", 2.0, reading="peak", resolution_kn=0.5)
    assert _ends(capacity_range(bite, None, 0.0, TOP_THRUST_KN)) == (1.75, 2.25)
    held = capacity_range(make_bite("held", 4.5, held_s=600.0), None, 0.0, TOP_THRUST_KN)
    assert (_ends(held), _log_holds(held)) == ((4.5, inf), (0.0, 0.0))  # no dwell to compare with
    stopped = capacity_range(make_bite("stopped", 1.5), None, 0.0, TOP_THRUST_KN)
    assert (_ends(stopped), stopped.spoilt_share) == ((1.5, inf), 1.0)


AFTER_A_SLIP = {
    # The thrust on, how it ended, the range: never from below the thrust.
    "let go at the next step": (2.0, ("released", 3.0), (2.0, 3.0), 1 / 3),
    "let go two steps on": (2.0, ("released", 4.5), (3.0, 4.5), 1 / 3),
    "thrust eased to between two steps": (1.4, ("released", 2.0), (1.4, 2.0), 1 / 4),
    "thrust eased below the first step": (0.2, ("released", 0.5), (0.2, 0.5), 1 / 6),
    "held": (3.0, ("held", 4.5), (4.5, inf), 0.0),
    "stopped under the thrust": (2.0, ("stopped", None), (2.0, inf), 1.0),
    "stopped a step on": (2.0, ("stopped", 3.0), (3.0, inf), 2 / 3),
}


@pytest.mark.parametrize("case", AFTER_A_SLIP)
def test_after_a_slip_the_range_starts_at_the_thrust_that_is_on(case, ladder, make_bite):
    start_kn, (ending, load_kn), ends, share = AFTER_A_SLIP[case]
    found = capacity_range(make_bite(ending, load_kn, 2), ladder, start_kn, TOP_THRUST_KN)
    assert (_ends(found), found.spoilt_share) == (ends, pytest.approx(share))


def test_a_peak_after_a_slip_is_cut_at_the_thrust(ladder, make_bite):
    bite = make_bite("released", 2.0, 2, reading="peak", resolution_kn=0.2)
    found = capacity_range(bite, ladder, 2.0, TOP_THRUST_KN)
    assert _ends(found) == pytest.approx((2.0, 2.1))
    assert found.spoilt_share == pytest.approx(0.1 / (TOP_THRUST_KN - 2.0))


@pytest.mark.parametrize(("start_kn", "peak_kn"), [(0.0, 5.2), (5.2, 5.9), (5.0, 5.05), (6.0, 9.0)])
def test_a_peak_above_the_boats_most_is_a_reading_and_not_taken_for_spoilt(
    start_kn, peak_kn, ladder, make_bite
):
    bite = make_bite("released", peak_kn, 2, reading="peak", resolution_kn=0.05)
    found = capacity_range(bite, ladder, start_kn, TOP_THRUST_KN)
    assert 0 < found.spoilt_share < 0.1
    assert found.lower_kn < found.upper_kn


def test_a_ladder_without_a_final_hold_still_has_a_range_above_its_top(ladder, make_bite):
    short = ladder.model_copy(update={"final_hold_s": ladder.steps[-1].dwell_s})
    bite = make_bite("released", 4.5, 2, held_s=20.0)
    found = capacity_range(bite, short, 4.5, TOP_THRUST_KN)
    assert (_ends(found), found.spoilt_share) == ((4.5, 4.5), 1.0)


def test_a_next_bite_is_seen_only_above_the_thrust():
    assert next_bite_range(2.6) == CapacityRange(lower_kn=2.6, upper_kn=inf, spoilt_share=1.0)


def _cells(ladder, make_bite, start_kn):
    """Every way a bite under a thrust may end: released at each step above, later, or held."""
    number = 1 if start_kn == 0 else 2
    steps = [make_bite("released", load, number) for load in ladder.loads_kn if load > start_kn]
    final = make_bite("released", ladder.top_kn, number, held_s=ladder.final_hold_s)
    held = make_bite("held", ladder.top_kn, number, held_s=ladder.final_hold_s)
    bites = [*steps, final, held]
    return [capacity_range(bite, ladder, start_kn, TOP_THRUST_KN) for bite in bites]


LADDERS = {
    "uneven": (0.5, 1.0, 2.0, 3.0, 4.5),
    "one step": (2.0,),
    "fine": tuple(0.25 * k for k in range(1, 19)),
}


def _is_whole(cells: list[CapacityRange], start_kn: float) -> bool:
    """Whether cells follow one another from the thrust to infinity and their shares sum to 1."""
    joined = all(a.upper_kn == b.lower_kn and a.upper_log_hold == b.lower_log_hold
                 for a, b in pairwise(cells))  # fmt: skip
    ends = cells[0].lower_kn == start_kn and cells[-1].upper_kn == inf
    return joined and ends and sum(cell.spoilt_share for cell in cells) == pytest.approx(1.0)


@pytest.mark.parametrize("loads", LADDERS)
@pytest.mark.parametrize("start_step", [None, 0, -1])
def test_all_cells_of_a_ladder_are_whole(loads, start_step, make_ladder, make_bite, monkeypatch):
    ladder = make_ladder(*LADDERS[loads])
    start_kn = 0.0 if start_step is None else ladder.loads_kn[start_step]
    assert _is_whole(_cells(ladder, make_bite, start_kn), start_kn)

    # A final hold that no spoilt bite can reach leaves some of its probability nowhere.
    monkeypatch.setattr(ranges, "_cells_above", lambda ladder, load_kn: len(ladder.steps) + 2)
    assert not _is_whole(_cells(ladder, make_bite, start_kn), start_kn)


def test_a_thrust_left_out_is_not_whole(ladder, make_bite):
    cells = _cells(ladder, make_bite, 2.0)
    from_nothing = capacity_range(make_bite("released", 3.0, 2), ladder, 0.0, TOP_THRUST_KN)
    assert _is_whole(cells, 2.0)
    assert not _is_whole([from_nothing, *cells[1:]], 2.0)
