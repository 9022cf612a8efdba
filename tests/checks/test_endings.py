"""The chance of every ending: against the likelihood, and against pulls made one by one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.names import PARAMETER_DIMS
from model.base.priors import DEFAULT_PRIORS
from model.checks.endings import LEFT_OUT, NEVER_SET, end_chances, recorded_endings
from model.checks.first_bites import SEEN, first_bites, thinned
from model.outcomes.likelihood import log_likelihood
from model.outcomes.prior_draws import prior_draws
from model.outcomes.shape import Shape
from model.records.pull import Bite, Ending, Pull, Reading


def pull(code, *bites, **more):
    facts = {"outing": "day 1", "anchor": "S6", "seabed": "firm sand", "reason": "-", **more}
    return Pull(code=code, bites=bites, **facts)


def told(campaign, pulls, draws=50, seed=1):
    arrays = campaign_arrays(campaign, pulls)
    shape, rng = Shape.of(campaign), np.random.default_rng(seed)
    parameters = prior_draws(arrays, DEFAULT_PRIORS, shape, draws, rng)
    endings = recorded_endings(campaign, used_pulls(pulls), arrays)
    return parameters, arrays, first_bites(parameters, arrays), endings


def test_each_ending_is_as_likely_as_the_likelihood_has_it(small_campaign):
    """Tied to the other code: what it says of a bite after which the crew let no more come."""
    ladder = small_campaign.ladders[0]
    bites = [
        Bite(number=1, ending=Ending.RELEASED_THEN_STOPPED, load_kn=load_kn)
        for load_kn in ladder.loads_kn
    ]
    held = Bite(number=1, ending=Ending.HELD, load_kn=ladder.top_kn, held_s=60.0)
    late = bites[-1].model_copy(update={"held_s": ladder.final_hold_s})
    all_bites = [*bites, held, late]
    pulls = [pull(f"{i:02}", bite) for i, bite in enumerate(all_bites)]
    parameters, arrays, found, endings = told(small_campaign, pulls)
    chances = (found.p_mode[..., None] * end_chances(found, endings)).sum(axis=0)
    likelihood = np.exp(log_likelihood(parameters, arrays))
    likelihood[:, len(ladder.steps) - 1] += likelihood[:, -1]  # at the top: in its dwell, or later
    for place in range(len(ladder.steps) + 1):
        assert endings.end[place] == place + 1
        assert chances[:, place, place + 1] == pytest.approx(likelihood[:, place], rel=1e-9)


def test_the_endings_of_a_pull_sum_to_1(small_campaign, small_pulls):
    @given(seed=st.integers(0, 10_000))
    def sum_to_1(seed):
        _, _, found, endings = told(small_campaign, small_pulls, draws=8, seed=seed)
        chances = end_chances(found, endings)
        assert (chances >= -1e-12).all()
        assert chances.sum(axis=-1) == pytest.approx(1.0)
        assert found.seen.sum(axis=1) == pytest.approx(1.0)

    sum_to_1()


def test_pulls_made_one_by_one_end_as_often(make_world, make_pulls, knowing, small_campaign):
    world = make_world()
    pulls = make_pulls(world, 3000, seed=3)
    posterior = knowing(world, pulls, n_draws=1)
    arrays = campaign_arrays(small_campaign, pulls)
    parameters = {name: posterior.draws[name].to_numpy() for name in PARAMETER_DIMS}
    found = first_bites(parameters, arrays)
    endings = recorded_endings(small_campaign, used_pulls(pulls), arrays)
    chances = (found.p_mode[..., None] * end_chances(found, endings)).sum(axis=0)[0]
    for cell in range(endings.size):
        expected, recorded = chances[:, cell].sum(), (endings.end == cell).sum()
        sd = np.sqrt((chances[:, cell] * (1 - chances[:, cell])).sum())
        assert abs(recorded - expected) < 4 * sd + 1e-9
    seen = np.einsum("mp,ms->ps", found.p_mode[:, 0], found.seen[..., 0])
    is_told = endings.seen != LEFT_OUT
    for code in range(len(SEEN)):
        p = seen[is_told, code]
        assert abs((endings.seen[is_told] == code).sum() - p.sum()) < 4 * np.sqrt(
            (p * (1 - p)).sum()
        )


def test_what_tells_of_no_ending_is_left_out(small_campaign):
    stopped = Bite(number=1, ending=Ending.STOPPED, load_kn=2.0)
    never = Bite(number=1, ending=Ending.NEVER_SET)
    peak = Bite(
        number=1, ending=Ending.RELEASED, reading=Reading.PEAK, load_kn=2.75, resolution_kn=0.05
    )
    pulls = [pull("1", stopped), pull("2", never), pull("3", peak)]
    _, _, _, endings = told(small_campaign, pulls)
    assert endings.end.tolist() == [LEFT_OUT, NEVER_SET, 1 + endings.loads_kn.index(3.2)]


def test_off_any_ladder_no_share_is_told(small_campaign, small_pulls):
    old = small_campaign.model_copy(
        update={
            "outings": tuple(
                outing.model_copy(update={"ladder": "unknown"}) for outing in small_campaign.outings
            )
        }
    )
    bites = (Bite(number=1, ending=Ending.RELEASED, load_kn=2.0),)
    _, _, _, endings = told(old, [pull("1", *bites)])
    assert endings.end.tolist() == [LEFT_OUT]
    assert endings.loads_kn == ()


def test_thinned_draws_come_evenly_from_all():
    found = thinned({"load_base": np.arange(2800.0)}, 1000)["load_base"]
    assert found.size == 1000
    assert found[[0, -1]].tolist() == [0, 2799]
    assert np.diff(found).max() <= 3
