"""A bite's climb, worked out by hand."""

import numpy as np
import pytest
from scipy.stats import chisquare

from model.records.campaign import Ladder, Step
from model.simulate.ladder import Spell, cells_above, climb, climb_spoilt


@pytest.fixture
def ladder() -> Ladder:
    """Three steps of 15 s, the top one held for 60 s."""
    steps = tuple(Step(load_kn=load, dwell_s=15.0) for load in (1.0, 2.0, 4.0))
    return Ladder(name="three", steps=steps, final_hold_s=60.0)


@pytest.mark.parametrize(
    ("capacity_kn", "expected_kn"), [(0.2, 1.0), (1.0, 1.0), (1.001, 2.0), (3.0, 4.0), (4.0, 4.0)]
)
def test_a_bite_lets_go_at_the_first_step_not_below_its_capacity(
    ladder: Ladder, capacity_kn: float, expected_kn: float
) -> None:
    assert climb(capacity_kn, ladder) == Spell(ending="released", load_kn=expected_kn)


def test_more_than_the_top_is_held_to_the_end(ladder: Ladder) -> None:
    assert climb(4.1, ladder) == Spell(ending="held", load_kn=4.0, held_s=60.0)


def test_a_long_hold_is_a_little_harder(ladder: Ladder) -> None:
    # 4 · (t / 15)^0.03 = 4.05 at t = 15 · (4.05 / 4)^(1 / 0.03) = 22.69 s, written 23.
    assert climb(4.05, ladder, hold_exponent=0.03).held_s == 23.0
    # At the end of the hold it counts as 4 · 4^0.03 = 4.1698 kN.
    assert climb(4.1697, ladder, hold_exponent=0.03) == Spell(
        ending="released", load_kn=4.0, held_s=60.0
    )
    assert climb(4.1699, ladder, hold_exponent=0.03).ending == "held"


def test_a_bite_under_thrust_goes_on_above_it(ladder: Ladder) -> None:
    assert climb(2.5, ladder, start_kn=1.0).load_kn == 4.0
    assert climb(4.05, ladder, start_kn=4.0).ending == "held"
    assert climb(4.05, ladder, start_kn=4.0, hold_exponent=0.03).held_s == 23.0


def test_the_crew_stops_only_an_anchor_that_still_stands(ladder: Ladder) -> None:
    assert climb(3.0, ladder, stop_kn=2.0) == Spell(ending="stopped", load_kn=2.0)
    assert climb(1.5, ladder, stop_kn=2.0) == Spell(ending="released", load_kn=2.0)
    assert climb(3.0, ladder, stop_kn=2.0, start_kn=2.0) == Spell(ending="stopped", load_kn=2.0)
    assert climb(9.0, ladder, stop_kn=4.0) == Spell(ending="stopped", load_kn=4.0)


@pytest.mark.parametrize("start_kn", [0.0, 1.0, 4.0])
def test_a_spoilt_bite_lets_go_in_any_cell_above_alike(ladder: Ladder, start_kn: float) -> None:
    rng = np.random.default_rng(11)
    spells = [climb_spoilt(ladder, rng, start_kn=start_kn) for _ in range(3000)]
    cells = [(spell.load_kn, spell.held_s is not None) for spell in spells]
    expected = [(load, False) for load in (1.0, 2.0, 4.0) if load > start_kn] + [(4.0, True)]
    counts = [cells.count(cell) for cell in expected]
    assert sum(counts) == 3000
    assert len(counts) == len(cells_above(ladder, start_kn))
    assert len(counts) == 1 or chisquare(counts).pvalue > 1e-4
    held = [spell.held_s for spell in spells if spell.held_s is not None]
    assert set(held) == {float(second) for second in range(16, 61)}


def test_without_a_final_hold_nothing_is_left_above_the_top() -> None:
    steps = (Step(load_kn=1.0, dwell_s=15.0), Step(load_kn=2.0, dwell_s=15.0))
    ladder = Ladder(name="short", steps=steps, final_hold_s=15.0)
    assert cells_above(ladder, 2.0) == ()
    assert cells_above(ladder, 0.0) == steps
    assert climb(2.01, ladder).ending == "held"


def test_a_spoilt_bite_can_be_stopped_before_it_lets_go(ladder: Ladder) -> None:
    rng = np.random.default_rng(12)
    spells = [climb_spoilt(ladder, rng, start_kn=0.0, stop_kn=2.0) for _ in range(400)]
    assert {(spell.ending, spell.load_kn) for spell in spells} == {
        ("released", 1.0),
        ("released", 2.0),
        ("stopped", 2.0),
    }
