"""Reduced draws of which all but one thing is known, and a small start from the priors."""

from collections.abc import Callable

import numpy as np
import pytest

from model.planning.candidates import candidates
from model.planning.outcome_table import OutcomeSpace
from model.planning.reduced import BY_DRAW, BY_ROW, Reduced
from model.planning.start import Start, start_of_priors
from model.records.campaign import Campaign, Ladder, Step
from model.records.question import Question, SetUp

SURE = 30.0
"""Logit of what is certain."""
NO_SCATTER = -20.0

Known = Callable[..., Reduced]


@pytest.fixture
def known_draws() -> Known:
    """Draws of rows whose log load is told; one mode, no scatter but a bite's, sets always."""

    def make(log_load: np.ndarray, sd: float, **more: object) -> Reduced:
        n_row, n_draw = log_load.shape
        by_row = {name: np.zeros((n_row, n_draw)) for name in BY_ROW}
        by_row |= {"log_upright": log_load, "log_on_side": log_load - 1.0}
        by_row["log_sd_upright"] = by_row["log_sd_on_side"] = np.full(log_load.shape, np.log(sd))
        by_row["logit_upright"] = by_row["logit_sets"] = np.full(log_load.shape, SURE)
        by_draw = {name: np.zeros(n_draw) for name in BY_DRAW}
        for name in ("log_pull_load", "log_gauge", "log_hold_exponent", "logit_spoilt"):
            by_draw[name] = np.full(n_draw, NO_SCATTER)
        for name, value in more.items():
            known = by_row if name in by_row else by_draw
            known[name] = np.broadcast_to(np.asarray(value, dtype=float), known[name].shape)
        return Reduced(by_row=by_row, by_draw=by_draw)

    return make


@pytest.fixture
def space() -> Callable[..., OutcomeSpace]:
    """Outcomes of a ladder by the logs of its loads, its top held for one dwell only."""

    def make(log_loads: np.ndarray, *, has_camera: bool = False) -> OutcomeSpace:
        steps = tuple(Step(load_kn=float(load), dwell_s=15) for load in np.exp(log_loads))
        ladder = Ladder(name="made up", steps=steps, final_hold_s=15)
        return OutcomeSpace(ladder=ladder, has_camera=has_camera)

    return make


@pytest.fixture
def wire(small_campaign: Campaign) -> Question:
    """The first changed level of the first treatment, in general."""
    treatment = small_campaign.treatments[0]
    return Question(
        name="wire", a=SetUp(levels={treatment.name: treatment.changed_levels[0]}), b=SetUp()
    )


@pytest.fixture
def begun(small_campaign: Campaign, wire: Question) -> Start:
    """Before the first pull of the small campaign."""
    every = candidates(small_campaign, [wire])
    return start_of_priors(small_campaign, [(wire, 1.0)], every, has_camera=True, n_draw=1500)
