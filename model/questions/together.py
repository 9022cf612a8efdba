"""What treatments do together, beyond the sum of what each does.

Only where the campaign names them as an interaction: then each answer that
rests on one shows its share apart, as every other effect is shown.
"""

import dataclasses

import numpy as np

from model.posterior.posterior import Posterior
from model.questions.answer import Together
from model.questions.effect import MeasureDraws, effect_estimate, measure_draws, predictions
from model.questions.sensitivity import changed_levels
from model.records.question import Measure, Question


def together_of(
    posterior: Posterior, question: Question, draws: MeasureDraws, cap_kn: float, seed: int
) -> Together | None:
    """The share of an effect that is owed to interactions; None where the sides differ in none.

    Parameters
    ----------
    draws : MeasureDraws
        Of the question's measure, from predictions with a generator of the same
        `seed`: the next anchor must be the same one in both.
    cap_kn : float
        As :func:`model.questions.effect.measure_draws` has it, kN.

    Notes
    -----
    None too for the next pull, whose two loads are one draw each, and where the
    model lets no treatment act on the measure (re-sets, turns).
    """
    campaign = posterior.campaign
    changed = [
        campaign.treatment_level_names[i] for i in changed_levels(posterior.campaign, question)
    ]
    names = tuple(name for name in changed if name in campaign.interaction_names)
    if not names or question.measure is Measure.NEXT:
        return None
    rng = np.random.default_rng(seed)
    sides = predictions(posterior, question, rng, is_additive=True)
    additive = measure_draws(question, question.measure, sides, cap_kn, rng)
    beyond = dataclasses.replace(draws, effect=draws.effect - additive.effect)
    if not beyond.effect.any():
        return None
    return Together(
        names=names,
        effect=effect_estimate(beyond),
        p_higher=float(np.mean(beyond.effect > 0) + 0.5 * np.mean(beyond.effect == 0)),
    )
