"""Whether draws may be used: each threshold on draws made to fail it alone."""

import numpy as np
import pytest
from pydantic import ValidationError

from model.arrays.campaign_arrays import campaign_arrays
from model.inference.fit_check import (
    BFMI_MIN,
    ESS_MIN,
    RHAT_MAX,
    check_fit,
    reported_quantities,
)

N_CHAIN, N_DRAW = 4, 500


@pytest.fixture
def arrays(small_campaign, small_pulls):
    return campaign_arrays(small_campaign, small_pulls)


@pytest.fixture
def draws(made_up_posterior, small_campaign, small_pulls):
    """Independent draws, so that every figure is as good as it can be."""
    return made_up_posterior(small_campaign, small_pulls, n_draws=N_CHAIN * N_DRAW).draws


@pytest.fixture
def energy():
    return np.random.default_rng(5).normal(size=(N_CHAIN, N_DRAW))


def _by_chain(values):
    return values.reshape(N_CHAIN, N_DRAW, *values.shape[1:])


def _change(draws, name, change):
    """One parameter's draws changed by chain."""
    values = draws[name].to_numpy()
    changed = change(_by_chain(values)).reshape(values.shape)
    return draws.assign({name: (draws[name].dims, changed)})


def _sticky(values, share=0.99):
    """Draws that hang together: each keeps most of the one before."""
    found = values.copy()
    for i in range(1, found.shape[1]):
        found[:, i] = share * found[:, i - 1] + np.sqrt(1 - share**2) * values[:, i]
    return found


def test_independent_draws_pass(draws, arrays, energy):
    found = check_fit(draws, arrays, energy, 0)
    assert (found.status, found.reasons) == ("passed", ())
    assert found.rhat_max <= RHAT_MAX
    assert found.bfmi_min == pytest.approx(2, abs=0.5)  # independent energies
    assert found.ess_bulk_min > ESS_MIN
    assert found.ess_tail_min > ESS_MIN


def test_one_divergence_is_too_many(draws, arrays, energy):
    found = check_fit(draws, arrays, energy, 1)
    assert (found.status, found.divergences) == ("failed", 1)
    assert found.reasons == ("1 divergent draws (none allowed)",)


def test_a_chain_that_tells_another_story_fails(draws, arrays, energy):
    def shift(values):
        shifted = values.copy()
        shifted[0] += 0.8
        return shifted

    found = check_fit(_change(draws, "load_base", shift), arrays, energy, 0)
    assert found.rhat_max > RHAT_MAX
    assert "chains disagree" in "".join(found.reasons)


def test_draws_that_hang_together_fail(draws, arrays, energy):
    found = check_fit(_change(draws, "load_base", _sticky), arrays, energy, 0)
    assert found.ess_bulk_min < ESS_MIN
    assert any(reason.startswith("too few effective draws: ") for reason in found.reasons)
    assert any("in a tail" in reason for reason in found.reasons)


def test_a_tail_visited_in_one_spell_fails_by_its_tail(draws, arrays, energy):
    """The bulk may look well while an end of the interval was seen once only."""

    def bury(values):
        found = values.copy()
        order = np.argsort(found[:, :, 0], axis=1)
        for chain in range(N_CHAIN):
            largest = order[chain, -60:]
            found[chain, :60], found[chain, largest] = (
                found[chain, largest].copy(),
                found[chain, :60].copy(),
            )
        return found

    found = check_fit(_change(draws, "treatment_load", bury), arrays, energy, 0)
    assert found.ess_tail_min < ESS_MIN
    assert any("in a tail" in reason for reason in found.reasons)


def test_energy_that_moves_too_little_fails_alone(draws, arrays, energy):
    walk = np.cumsum(energy, axis=1)
    found = check_fit(draws, arrays, walk, 0)
    assert found.bfmi_min < BFMI_MIN
    [reason] = found.reasons
    assert reason.startswith("low energy information: BFMI")


def test_energy_is_judged_step_by_step(draws, arrays):
    """Twice as many steps as draws: every other step alone would look well mixed."""
    rng = np.random.default_rng(8)
    steps = _sticky(rng.normal(size=(N_CHAIN, 2 * N_DRAW)), share=0.9)
    assert check_fit(draws, arrays, steps[:, ::2], 0).bfmi_min > BFMI_MIN
    assert check_fit(draws, arrays, steps, 0).bfmi_min < BFMI_MIN


def test_one_chain_low_in_energy_is_enough(draws, arrays, energy):
    energy[2] = np.cumsum(energy[2])
    assert check_fit(draws, arrays, energy, 0).bfmi_min < BFMI_MIN


def test_every_reason_is_named_at_once(draws, arrays, energy):
    found = check_fit(_change(draws, "load_base", _sticky), arrays, np.cumsum(energy, axis=1), 7)
    assert [reason.split(" ")[0] for reason in found.reasons] == [
        "7", "chains", "low", "too", "too",
    ]  # fmt: skip


def test_draws_that_are_not_numbers_never_come_to_a_check(draws, arrays, energy):
    """The sampler refuses them before; were they to come here, no record would take them."""
    broken = _change(draws, "upright_base", lambda values: values * np.nan)
    with pytest.raises(ValidationError, match="rhat_max"):
        check_fit(broken, arrays, energy, 0)


def test_what_is_judged_is_what_answers_are_made_of(draws, arrays):
    """Loads and chances of each set-up and day, and the effects of each treatment."""
    quantities = reported_quantities(draws, arrays)
    shifted = {
        name: reported_quantities(_change(draws, name, lambda values: values + 1.0), arrays)
        for name in ("load_base", "upright_base", "sets_base", "treatment_load",
                     "treatment_upright", "day_load", "mode_gap", "resets_base", "anchor_resets",
                     "log_scatter", "pull_load_scale", "later_bite_load", "later_bite_upright",
                     "turns_base", "buried_base", "buried_gap", "treatment_buried",
                     "anchor_load_scale", "mode_gap_scale", "mode_gap_centre",
                     "treatment_anchor_buried_scale")
    }  # fmt: skip
    assert all(not np.allclose(changed, quantities) for changed in shifted.values())


def test_each_set_up_and_day_is_judged_once(draws, arrays, small_campaign, small_pulls):
    twice = (*small_pulls, *(p.model_copy(update={"code": f"{p.code} b"}) for p in small_pulls))
    again = campaign_arrays(small_campaign, twice)
    assert np.array_equal(reported_quantities(draws, again), reported_quantities(draws, arrays))
