"""What two changes do together stands apart in an answer that rests on it."""

import numpy as np
import pytest

from model.outcomes.prediction import sigmoid
from model.questions.ask import answer
from model.questions.effect import predictions
from model.records.question import Measure, Question, SetUp

BOTH = {"leader": "wire 2 m", "chain": "6 mm"}


@pytest.fixture
def crossed(small_campaign):
    return small_campaign.model_copy(update={"interactions": (("leader", "chain"),)})


@pytest.fixture
def posterior(made_up_posterior, crossed, small_pulls):
    return made_up_posterior(crossed, small_pulls, n_draws=1000)


def asked(measure=Measure.TYPICAL, a=BOTH, b=None, **more):
    sides = {"a": SetUp(anchor="S6", levels=a), "b": SetUp(anchor="S6", levels=b or {})}
    return Question.model_validate({"name": "both", "measure": measure, **sides, **more})


def test_load_once_upright_by_hand(posterior, small_pulls):
    """With S6 always upright the share is the interaction's own terms and nothing else."""
    always = posterior.draws.assign(upright_base=posterior.draws["upright_base"] * 0 + 60.0)
    posterior = type(posterior)(
        draws=always,
        campaign=posterior.campaign,
        provenance=posterior.provenance,
        fit_check=posterior.fit_check,
    )
    found = answer(asked(seabeds=("firm sand",)), posterior, small_pulls).together
    on = {"treatment_level": 2}
    where = {"anchor": 0, "seabed": 0}
    shares = [
        always[name].isel({dim: at for dim, at in (on | where).items() if dim in always[name].dims})
        for name in (
            "treatment_load",
            "treatment_anchor_load",
            "treatment_seabed_load",
            "treatment_upright_load",
        )
    ]
    by_hand = sum(share.to_numpy() for share in shares)
    assert found.names == ("leader=wire 2 m & chain=6 mm",)
    assert found.effect.median == pytest.approx(np.exp(np.median(by_hand)))
    assert found.p_higher == pytest.approx(np.mean(by_hand > 0))


def test_a_chance_by_hand(posterior, small_pulls):
    """The difference that the one term makes to the chance itself, not to its logit."""
    found = answer(asked(Measure.UPRIGHT), posterior, small_pulls).together
    sides = [
        predictions(posterior, asked(), np.random.default_rng(1), is_additive=is_additive).a
        for is_additive in (False, True)
    ]
    with_it, without = (sigmoid(side.logit_upright).mean(axis=1) for side in sides)
    assert found.effect.median == pytest.approx(np.median(with_it - without))
    assert found.effect.unit == "chance"


@pytest.mark.parametrize(
    "question",
    [
        asked(a={"leader": "wire 2 m"}),
        asked(a=BOTH, b=BOTH | {"chain": "8 mm"}, measure=Measure.NEXT),
        asked(Measure.RESETS),
    ],
    ids=["one change only", "the next pull", "no treatment acts on it"],
)
def test_where_there_is_nothing_to_show(question, posterior, small_pulls):
    assert answer(question, posterior, small_pulls).together is None


def test_the_same_next_anchor_stands_in_both(posterior, small_pulls):
    """Else the difference of two anchors would be taken for what the changes do together."""
    question = Question(name="next", a=SetUp(levels=BOTH), b=SetUp(), over="next")
    one = posterior.draws.copy(deep=True)
    for name in ("treatment_load", "treatment_upright_load", "treatment_upright"):
        one[name][:, 2] = 0.0
    for name in ("treatment_anchor_load_scale", "treatment_anchor_upright_scale"):
        one[name][:] = 0.0
    one["treatment_seabed_load"][:] = 0.0
    posterior = type(posterior)(
        draws=one,
        campaign=posterior.campaign,
        provenance=posterior.provenance,
        fit_check=posterior.fit_check,
    )
    assert answer(question, posterior, small_pulls).together is None


def test_without_the_name_there_is_no_share(made_up_posterior, small_campaign, small_pulls):
    posterior = made_up_posterior(small_campaign, small_pulls)
    assert answer(asked(), posterior, small_pulls).together is None
