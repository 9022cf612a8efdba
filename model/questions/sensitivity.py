"""How much an answer leans on its priors and on other pulls, from stored draws alone."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.posterior.posterior import LOG_LIKELIHOOD, Posterior
from model.questions.effect import BandShares, band_shares
from model.questions.sides import differs_in_scope
from model.questions.weights import pareto_limit, smoothed_weights
from model.records.answer import Finding
from model.records.campaign import Campaign
from model.records.question import Measure, Question

Array = NDArray[np.float64]

EFFECT_PARAMETER: Final = {
    Measure.UPRIGHT: "treatment_upright",
    Measure.SETS: "treatment_sets",
    Measure.RESETS: None,
    Measure.TURNS: None,
    Measure.BURIED: "treatment_buried",
}
"""Whose prior is doubled for measures that are not loads; loads use ``treatment_load``."""

AT_PRIOR_RATIO: Final = 0.9
"""A term whose posterior sd is at least this share of its prior sd was told little."""


def changed_levels(campaign: Campaign, question: Question) -> list[int]:
    """Positions of the treatment levels and interactions in which the two sides differ."""
    names = campaign.treatment_level_names
    sides = [
        campaign.levels_on(campaign.filled(setup).levels) for setup in (question.a, question.b)
    ]
    return [i for i, name in enumerate(names) if (name in sides[0]) != (name in sides[1])]


def doubled_prior_weights(posterior: Posterior, question: Question) -> tuple[Array, float]:
    """Weights of the draws under a doubled prior sd of the treatment effect, and Pareto k.

    Importance weights smoothed by PSIS; k beyond :func:`pareto_limit` means
    that the draws cannot tell. Where the sides differ in scope the slope of
    scope is doubled too; where they differ in neither: equal weights, k 0.
    """
    n_draw = posterior.draws.sizes["draw"]
    parameter = EFFECT_PARAMETER.get(question.measure, "treatment_load")
    levels = changed_levels(posterior.campaign, question)
    parts = []
    if levels and parameter is not None:
        values = posterior.draws[parameter].to_numpy()[:, levels]
        parts.append(values / _prior(posterior, parameter)["sd"])
    if acts_through_scope(posterior.campaign, question):
        parts.append(_scope_slope_in_sd(posterior)[:, None])
    if not parts:
        return np.full(n_draw, 1 / n_draw), 0.0
    z = np.concatenate(parts, axis=1)
    log_ratio = (0.5 * z**2 * (1 - 0.25) - np.log(2.0)).sum(axis=1)
    found = smoothed_weights(log_ratio)
    return found.shares, found.pareto_k


def _prior(posterior: Posterior, parameter: str) -> dict[str, float]:
    """Mean and sd of a normal prior, as the fit had it."""
    prior = posterior.provenance.priors[parameter]
    if not isinstance(prior, dict):
        raise TypeError(f"the prior of {parameter} is {prior!r}, not a mean and an sd")
    return {name: float(prior[name]) for name in ("mean", "sd")}


def depends_on_scope(measure: Measure) -> bool:
    """Whether scope acts on a measure; on how an anchor sets it does not in this model."""
    return measure not in EFFECT_PARAMETER


def acts_through_scope(campaign: Campaign, question: Question) -> bool:
    """Whether the two sides differ in scope and the measure depends on it."""
    is_between = differs_in_scope(campaign, question)
    return is_between and depends_on_scope(question.measure)


def _scope_slope_in_sd(posterior: Posterior) -> Array:
    """The slope of scope under each draw, in sd of its log-normal prior from its centre."""
    prior = _prior(posterior, "scope_slope")
    log_slope: Array = np.log(posterior.draws["scope_slope"].to_numpy())
    return (log_slope - prior["mean"]) / prior["sd"]


def finding_of(shares: BandShares, threshold: float) -> Finding:
    """The region that holds at least the threshold, if one does."""
    for finding, share in (
        (Finding.HIGHER, shares.above),
        (Finding.LOWER, shares.below),
        (Finding.NO_PRACTICAL_DIFFERENCE, shares.inside),
    ):
        if share >= threshold:
            return finding
    return Finding.NOT_SETTLED


def survives_doubling(
    posterior: Posterior, question: Question, effect: Array, finding: Finding, threshold: float
) -> bool | None:
    """Whether a finding stands under the doubled prior; None where draws cannot tell."""
    weights, k = doubled_prior_weights(posterior, question)
    if not k <= pareto_limit(effect.size):
        return None
    return finding_of(band_shares(effect, question.band, weights), threshold) is finding


def own_share(posterior: Posterior, pull_ids: set[str], effect: Array) -> float | None:
    """Share of what the pulls tell about an effect that its own pulls tell, 0 to 1.

    Raising the likelihood of some pulls to a power near 1 changes the effect's
    variance by minus their share of its precision (power-scaling, Kallioinen
    et al. 2024); None where the pulls together tell next to nothing.
    """
    log_likelihood = posterior.draws[LOG_LIKELIHOOD]
    is_own = np.array([str(name) in pull_ids for name in posterior.draws["pull"].to_numpy()])
    values = log_likelihood.to_numpy()
    squared = (effect - effect.mean()) ** 2
    told = [_told(squared, values[:, mask].sum(axis=1)) for mask in (is_own, ~is_own)]
    total = sum(told)
    return None if total < 0.05 else told[0] / total


def _told(squared: Array, log_likelihood: Array) -> float:
    covariance = np.mean(squared * (log_likelihood - log_likelihood.mean()))
    return float(max(0.0, -covariance / squared.mean())) if squared.mean() > 0 else 0.0


@dataclass(frozen=True, kw_only=True)
class TermAtPrior:
    """A term of which the pulls told next to nothing, and the pulls that would tell.

    Parameters
    ----------
    of : str
        What has the effect, as ``leader=wire 2 m``; or an anchor.
    on : str
        What it acts on, as ``load``; or what of the anchor it is.
    told_by : str
        What to pull, with a place for what has the effect.
    is_by_others : bool
        Of an anchor: what is said of it is what the other anchors say.
    """

    of: str
    on: str
    told_by: str
    is_by_others: bool = False


TOLD_BY: Final = {
    "treatment_load": "pulls with {of} that let go below the boat's most",
    "treatment_upright_load": (
        "pulls with {of} that stand upright and let go below the boat's most"
    ),
    "treatment_upright": "pulls with {of} and a camera on them",
    "treatment_sets": "pulls with {of}, whether they set or not",
    "treatment_buried": "pulls with {of} whose buried rode is measured",
}
"""By effect: the pulls that would tell of it."""

SCOPE_AT_PRIOR: Final = TermAtPrior(
    of="scope", on="load", told_by="pulls of one set-up at both scopes on one outing"
)


def terms_at_prior(posterior: Posterior, question: Question) -> tuple[TermAtPrior, ...]:
    """Effects that the question rests on whose posterior is about as wide as their prior."""
    names = posterior.campaign.treatment_level_names
    found = []
    for level in changed_levels(posterior.campaign, question):
        for parameter, word in _terms_behind(question.measure).items():
            sd = float(posterior.draws[parameter].to_numpy()[:, level].std())
            if sd >= AT_PRIOR_RATIO * _prior(posterior, parameter)["sd"]:
                found.append(TermAtPrior(of=names[level], on=word, told_by=TOLD_BY[parameter]))
    return (*found, *([SCOPE_AT_PRIOR] if is_scope_at_prior(posterior, question) else []))


def is_scope_at_prior(posterior: Posterior, question: Question) -> bool:
    """Whether an answer rests on what scope does, of which the pulls told next to nothing."""
    if not acts_through_scope(posterior.campaign, question):
        return False
    return float(_scope_slope_in_sd(posterior).std()) >= AT_PRIOR_RATIO


def is_as_wide_as_prior(posterior: Posterior, question: Question, log_load: Array) -> bool:
    """Whether an effect on load is about as wide as what was believed of it before any pull.

    Of such an effect the prior alone says that a load higher beyond the band is
    unlikely (87 %), which must not read as something found. False where the sides
    differ in no treatment: the prior of an anchor's level is far wider than any answer.
    """
    levels = changed_levels(posterior.campaign, question)
    before = _prior(posterior, "treatment_load")["sd"] * np.sqrt(len(levels))
    return bool(levels) and float(log_load.std()) >= AT_PRIOR_RATIO * before


def _terms_behind(measure: Measure) -> dict[str, str]:
    """Treatment effects that a measure depends on, with what each acts on."""
    upright = {"treatment_upright": "how often it sets upright"}
    if measure is Measure.UPRIGHT:
        return upright
    if measure is Measure.SETS:
        return {"treatment_sets": "how often it sets"}
    if measure in {Measure.RESETS, Measure.TURNS}:
        return {}
    if measure is Measure.BURIED:
        return {"treatment_buried": "how much rode it buries", **upright}
    return {
        "treatment_load": "load",
        "treatment_upright_load": "load once upright",
        **upright,
    }
