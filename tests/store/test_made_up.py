"""The made-up posterior itself has the declared schema, and the schema can fail."""

import pytest

from model.posterior.posterior import schema_faults


def test_made_up_posterior_has_the_schema(made_up_posterior, small_campaign, small_pulls):
    posterior = made_up_posterior(small_campaign, small_pulls)

    assert schema_faults(posterior.draws) == []
    assert schema_faults(posterior.draws.drop_vars("load_base")) == ["load_base is missing"]


def test_shift_moves_only_what_it_names(made_up_posterior, small_campaign, small_pulls):
    plain = made_up_posterior(small_campaign, small_pulls)
    moved = made_up_posterior(small_campaign, small_pulls, shift={"treatment_load": 0.5})

    difference = moved.draws - plain.draws
    assert float(difference["treatment_load"].mean()) == pytest.approx(0.5)
    assert float(abs(difference["load_base"]).max()) == 0.0
