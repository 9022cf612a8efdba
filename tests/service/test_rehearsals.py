import numpy as np
import pytest

from model.base.errors import InputError
from model.planning.sweep import LANDMARKS
from model.records.answer import NotYet
from model.service.planning_start import Wish
from model.service.rehearsals import rehearse_question

FEW = {"n_campaign": 10, "most_pulls": 4, "hours": 2}


def test_ways_to_choose_side_by_side(planned):
    found = rehearse_question(planned, Wish(), has_effects=False, **FEW)
    assert [one.policy for one in found.by_policy] == [
        "by what it tells",
        "by what it tells an hour",
        "each in turn",
        "two arms in turn",
    ]
    assert found.by_effect == ()
    for one in found.by_policy:
        assert (one.n_campaign, one.most_pulls, one.pulls_a_day) == (10, 4, 4)
        assert sum(one.ends.values()) == pytest.approx(1)
    assert found.outlook.rehearsed is found.by_policy[0]


def test_true_effects_one_by_one_and_how_far_it_is(planned):
    said = []
    found = rehearse_question(
        planned, Wish(), progress=lambda share, words: said.append((share, words)), **FEW
    )
    effects = [effect for effect, _ in found.by_effect]
    # Those that the draws do not speak against, of all that stand at the band's landmarks.
    assert 3 <= len(effects) <= len(LANDMARKS)
    assert effects == sorted(effects)
    draws = found.begun.start.main.effect(found.begun.start.draws)
    low, high = np.quantile(draws, [0.025, 0.975])
    assert all(low <= effect <= high for effect in effects)
    band = np.log(found.begun.start.main.question.band.upper)
    assert len(effects) == sum(low <= share * band <= high for share in LANDMARKS)
    assert [one.effect.mean() for _, one in found.by_effect] == pytest.approx(effects, abs=0.05)
    n_task = len(found.by_policy) + len(effects)
    assert said[-1] == (1.0, f"rehearsed {n_task} of {n_task}")
    assert len(said) == n_task


def test_the_same_seed_rehearses_the_same(planned):
    one, other, third = (
        rehearse_question(planned, Wish(), has_effects=False, seed=seed, **FEW)
        for seed in (1, 1, 2)
    )
    assert one.by_policy[0].effect.tolist() == other.by_policy[0].effect.tolist()
    assert one.by_policy[0].pulled.tolist() == other.by_policy[0].pulled.tolist()
    assert one.by_policy[0].effect.tolist() != third.by_policy[0].effect.tolist()


@pytest.mark.parametrize(
    "given",
    [
        {"n_campaign": 9},
        {"n_campaign": 5001},
        {"most_pulls": 1},
        {"most_pulls": 201},
        {"n_jobs": 0},
        {"n_jobs": 65},
        {"hours": 0},
    ],
)
def test_more_or_less_than_can_be_rehearsed_is_refused(planned, given):
    with pytest.raises(InputError) as caught:
        rehearse_question(planned, Wish(), **{**FEW, **given})
    assert caught.value.hint.startswith("Between")


def test_pulls_without_a_fit_wait_for_it(filled):
    assert isinstance(rehearse_question(filled, Wish(), **FEW), NotYet)
