import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.outcomes.measures import typical
from model.outcomes.prediction import Prediction
from model.questions import split
from model.questions.ask import answer
from model.questions.split import split_parts
from model.records.question import Question, SetUp

LOADS = st.floats(-2, 4)
LOGITS = st.floats(-8, 8)


def _side(log_on_side, gap, logit):
    values = dict.fromkeys(Prediction.__dataclass_fields__, np.zeros((1, 1)))
    values |= {
        "log_on_side": np.array([[log_on_side]]),
        "log_upright": np.array([[log_on_side + gap]]),
        "logit_upright": np.array([[logit]]),
    }
    return Prediction(**values)


SIDES = st.builds(_side, LOADS, st.floats(0, 3), LOGITS)


@given(a=SIDES, b=SIDES)
def test_the_three_parts_are_the_whole(a, b):
    whole = (typical(a) - typical(b)).item()
    assert sum(part.item() for part in split_parts(a, b).values()) == pytest.approx(whole, abs=1e-9)


@given(a=SIDES, b=SIDES)
def test_the_other_way_round_each_part_changes_its_sign(a, b):
    there, back = split_parts(a, b), split_parts(b, a)
    assert all(there[name].item() == pytest.approx(-back[name].item(), abs=1e-9) for name in there)


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_without_the_midpoint_the_parts_are_refused(monkeypatch, share):
    a, b = _side(1.0, 0.6, 1.5), _side(0.8, 0.2, -1.0)
    assert len(split_parts(a, b)) == 3
    monkeypatch.setattr(split, "MIDPOINT", share)
    with pytest.raises(ArithmeticError, match="do not add up"):
        split_parts(a, b)


CASES = {
    "through load": ({}, 0.2, (0.2, 0.0, 0.0)),
    "once upright": ({"treatment_upright_load": 0.2}, 0.0, (0.0, 0.2 * 0.6225, 0.0)),
    # Upright goes from sigmoid(0.5) to sigmoid(2.0); the gap is 0.4 on both sides.
    "through mode": ({"treatment_upright": 1.5}, 0.0, (0.0, 0.0, 0.4 * (0.8808 - 0.6225))),
}


@pytest.mark.parametrize("name", CASES)
def test_a_cause_of_one_kind_is_found_in_its_part(name, known_posterior, normal_draws, small_pulls):
    values, load, expected = CASES[name]
    posterior = known_posterior(values, leader=normal_draws(load, 1e-6))
    question = Question(
        name="leader", a=SetUp(anchor="S6", levels={"leader": "wire 2 m"}), b=SetUp(anchor="S6")
    )
    found = answer(question, posterior, small_pulls).split
    assert found is not None
    parts = (found.load, found.upright_only, found.through_mode)
    assert [np.log(part.median) for part in parts] == pytest.approx(expected, abs=1e-4)
