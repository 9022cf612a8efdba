"""All checks of a posterior and its standing answers."""

from collections.abc import Sequence

import numpy as np

from model.arrays.campaign_arrays import campaign_arrays, used_pulls
from model.base.priors import Priors
from model.checks.asked import Asked
from model.checks.blind_spots import BlindSpot, find_blind_spots
from model.checks.check import Check
from model.checks.doubled_prior import DoubledPriors, double_priors
from model.checks.endings import recorded_endings
from model.checks.first_bites import first_bites, thinned
from model.checks.influence import Influences, Refit, find_influences
from model.checks.leave_one_out import leave_each_out
from model.checks.log_prior import log_prior
from model.checks.power_scaling import Sensitivities, find_sensitivities
from model.checks.prior_ranges import PriorRanges, compare_with_priors
from model.checks.shares import Shares, compare_shares
from model.checks.uniformity import Uniformity, check_uniformity
from model.posterior.posterior import CHAIN, LOG_LIKELIHOOD, Posterior
from model.questions.answer import Answer
from model.questions.effect import parameters_of
from model.questions.passed import require_passed
from model.records.base import Record
from model.records.pull import Pull

SHARE_DRAWS = 1000
"""Draws by which counts are predicted: their chances are known to a hundredth."""


class Checks(Record):
    """What every check but the fit's own found, each with its table.

    Parameters
    ----------
    blind_spots : tuple of BlindSpot
        What the pulls cannot say; no check, as no pull is at fault.
    """

    priors: PriorRanges
    shares: Shares
    influences: Influences
    uniformity: Uniformity
    sensitivities: Sensitivities
    doubled: DoubledPriors
    blind_spots: tuple[BlindSpot, ...]

    @property
    def checks(self) -> tuple[Check, ...]:
        """Each in plain words, in the order in which a reader needs them."""
        return (
            self.shares.check,
            self.influences.check,
            self.uniformity.check,
            self.sensitivities.check,
            self.doubled.check,
            self.priors.check,
        )


def run_checks(
    posterior: Posterior,
    pulls: Sequence[Pull],
    answers: Sequence[Answer],
    refits: Sequence[Refit] = (),
) -> Checks:
    """Check a posterior against its pulls, and the answers against it.

    Parameters
    ----------
    posterior : Posterior
        Of a full fit, with the log likelihood of each pull under each draw.
    pulls : sequence of Pull
        Those it rests on, void ones included.
    answers : sequence of Answer
        The standing ones, from this posterior.
    refits : sequence of Refit
        Fits that were made with a pull left out.

    Raises
    ------
    FitFailed
        If the draws failed their fit check: of such nothing is told.
    """
    require_passed(posterior)
    campaign, used = posterior.campaign, used_pulls(pulls)
    arrays, parameters = campaign_arrays(campaign, pulls), parameters_of(posterior)
    by_id = {pull.id: pull for pull in used}
    asked = [Asked.of(answer, campaign, used) for answer in answers]
    priors = Priors.of(posterior.provenance.priors)
    endings, left_out = recorded_endings(campaign, used, arrays), leave_each_out(posterior)
    told = posterior.draws[LOG_LIKELIHOOD].to_numpy().sum(axis=1)
    n_chain = len(np.unique(posterior.draws[CHAIN].to_numpy()))
    few = first_bites(thinned(parameters, SHARE_DRAWS), arrays)
    every = first_bites(parameters, arrays)
    return Checks(
        priors=compare_with_priors(campaign, priors, arrays, endings),
        shares=compare_shares(campaign, few, endings),
        influences=find_influences(campaign, by_id, asked, left_out, refits),
        uniformity=check_uniformity(campaign, by_id, every, arrays, endings, left_out),
        sensitivities=find_sensitivities(
            asked, log_prior(parameters, arrays, priors), told, n_chain
        ),
        doubled=double_priors(posterior, asked),
        blind_spots=find_blind_spots(answers),
    )
