"""What anchors are made of, as far as a question touches it, and of which hardly a pull told.

An anchor's quantity is held against the same one of an anchor of this campaign that was never
pulled: of its mass, made from the same older specimen, drawn from the same draws' scales. Where
it is about as wide, what is said of it is what the other anchors say.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import logit

from model.arrays.campaign_arrays import level_vector, log_mass_ratios
from model.base.names import ANCHOR, DRAW, PARAMETER_DIMS
from model.outcomes.prediction import Prediction, SetUpRow, predict
from model.posterior.posterior import Posterior
from model.questions.effect import Predictions, measure_draws, rows_of
from model.questions.extended_draws import extended_draws
from model.questions.sensitivity import AT_PRIOR_RATIO, TOLD_BY, TermAtPrior
from model.questions.sides import question_seabeds, setup_rows
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question, SetUp

Array = NDArray[np.float64]
Drawn = Mapping[str, Array]

SEED: Final = 20_261_127
"""Of the next pull's chance, and of the next anchor that is drawn along; the same on both sides
of each comparison."""

MOST_DRAWS: Final = 1000
"""Of which widths are taken, evenly spaced: an sd is then known to 2 %, and all draws would cost
a quick answer a third of its time."""

LEAST_SD: Final = 0.01
"""On log and logit scales; where an anchor never pulled is known to this, there is nothing to
tell."""

TRIED_DRAWS: Final = 32
"""Enough to see whether a question depends on a quantity at all: it does in every draw, or none."""

MORE_TRIED_DRAWS: Final = 1000
"""For the next pull, which is one outcome a draw: another chance to set changes only a few."""

ROUNDING: Final = 1e-9
"""Two effects, log or chances, that differ by less are the same one."""

NEARLY_CERTAIN: Final = 1e-12
"""How near 0 or 1 a chance is taken: further out its logit is rounding."""


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """What an anchor has of its own, on the scale on which it is about normal.

    Parameters
    ----------
    on : str
        In words.
    told_by : str
        Pulls that would tell of it, with a place for the anchor.
    parameters : tuple of str
        What differs by anchor in it.
    values : callable
        From a prediction and the gap between the modes of its rows ``(draw, row)``.
    """

    on: str
    told_by: str
    parameters: tuple[str, ...]
    values: Callable[[Prediction, Array], Array]


def _logit(chance: Array) -> Array:
    found: Array = logit(np.clip(chance, NEARLY_CERTAIN, 1 - NEARLY_CERTAIN))
    return found


QUANTITIES: Final = (
    Quantity(
        on="load",
        told_by=TOLD_BY["treatment_load"],
        parameters=("anchor_load", "anchor_seabed_load"),
        values=lambda side, _: side.log_upright,
    ),
    Quantity(
        on="the gap between its modes",
        told_by="pulls with {of} that set on their side and let go below the boat's most",
        parameters=("mode_gap",),
        values=lambda _, gap: np.log(gap),
    ),
    Quantity(
        on="how often it sets upright",
        told_by=TOLD_BY["treatment_upright"],
        parameters=("anchor_upright", "anchor_seabed_upright"),
        values=lambda side, _: side.logit_upright,
    ),
    Quantity(
        on="how often it sets",
        told_by=TOLD_BY["treatment_sets"],
        parameters=("anchor_sets",),
        values=lambda side, _: _logit(side.p_sets),
    ),
    Quantity(
        on="how often it re-sets",
        told_by="pulls with {of} that go on after letting go",
        parameters=("anchor_resets",),
        values=lambda side, _: _logit(side.p_resets),
    ),
    Quantity(
        on="how often it sets again after a turn",
        told_by="pulls with {of} that are turned",
        parameters=("anchor_turns",),
        values=lambda side, _: _logit(side.p_turns),
    ),
    Quantity(
        on="how much rode it buries",
        told_by=TOLD_BY["treatment_buried"],
        parameters=("anchor_buried",),
        values=lambda side, _: side.log_buried,
    ),
)
"""What sets anchors apart in this model, but for how much their loads scatter."""

ALL_OF_IT: Final = ("all of it", "any pulls with {of}")
"""Of an anchor that was never pulled, in the place of everything one by one."""


@dataclass(frozen=True, kw_only=True)
class Untried:
    """Some anchors of a campaign, and beside each one like it that was never pulled.

    Parameters
    ----------
    own, untried : (anchor,) int array
        Positions of the anchors in `drawn`, and of those never pulled, in the same order.
    drawn : dict of str to array
        Draws of every parameter, of the campaign's anchors first.
    log_mass_ratio : (anchor,) array
        Of all anchors in `drawn`.
    """

    campaign: Campaign
    own: NDArray[np.int64]
    untried: NDArray[np.int64]
    drawn: Drawn
    log_mass_ratio: Array


def anchor_terms(
    posterior: Posterior, question: Question, pulls: Sequence[Pull]
) -> tuple[TermAtPrior, ...]:
    """Quantities of a question's anchors that are about as wide as those of one never pulled.

    Parameters
    ----------
    pulls : sequence of Pull
        Those that the posterior rests on. Of an anchor without any there is one term: all of it.

    Returns
    -------
    tuple of TermAtPrior
        Empty for the next anchor, which is what the others say by its nature.
    """
    campaign = posterior.campaign
    if question.over == "next":
        return ()
    beside = _beside_untried(posterior, question)
    touched = touched_by(question, beside)
    pulled = {pull.anchor for pull in pulls if not pull.is_void}
    widths = width_ratios(question, beside, touched)
    found = []
    for rank, place in enumerate(beside.own):
        code = campaign.anchors[place].code
        if code not in pulled:
            found += [(code, *ALL_OF_IT)] if touched else []
            continue
        found += [
            (code, one.on, one.told_by) for one in touched if widths[one.on][rank] >= AT_PRIOR_RATIO
        ]
    has_others = len(campaign.anchors) > 1
    return tuple(
        TermAtPrior(of=of, on=on, told_by=told_by, is_by_others=has_others)
        for of, on, told_by in found
    )


def _beside_untried(posterior: Posterior, question: Question) -> Untried:
    campaign = posterior.campaign
    named = {question.a.anchor, question.b.anchor}
    own = [i for i, one in enumerate(campaign.anchors) if None in named or one.code in named]
    like = [
        campaign.anchors[i].model_copy(update={"code": f"{campaign.anchors[i].code}, never pulled"})
        for i in own
    ]
    doubled = campaign.model_copy(update={"anchors": (*campaign.anchors, *like)})
    return Untried(
        campaign=campaign,
        own=np.array(own),
        untried=len(campaign.anchors) + np.arange(len(own)),
        drawn=extended_draws(_thinned(posterior), doubled),
        log_mass_ratio=log_mass_ratios(doubled),
    )


def _thinned(posterior: Posterior) -> Posterior:
    step = -(-posterior.draws.sizes[DRAW] // MOST_DRAWS)  # rounded up
    return replace(posterior, draws=posterior.draws.isel({DRAW: slice(None, None, step)}))


def touched_by(question: Question, beside: Untried) -> list[Quantity]:
    """Quantities of which the effect would be another one if the anchors' were others."""
    tried = MORE_TRIED_DRAWS if question.measure is Measure.NEXT else TRIED_DRAWS
    step = max(len(beside.drawn["load_base"]) // tried, 1)
    some = {name: values[::step] for name, values in beside.drawn.items()}
    before = _effect(question, beside, some)
    return [
        one
        for one in QUANTITIES
        if not np.allclose(
            before,
            _effect(question, beside, _swapped(some, beside, one)),
            rtol=0.0,
            atol=ROUNDING,
        )
    ]


def _swapped(drawn: Drawn, beside: Untried, quantity: Quantity) -> Drawn:
    """Draws in which each anchor has the quantity of the one never pulled."""
    swapped = dict(drawn)
    for name in quantity.parameters:
        by_anchor = np.moveaxis(drawn[name].copy(), 1 + PARAMETER_DIMS[name].index(ANCHOR), 0)
        by_anchor[beside.own] = by_anchor[beside.untried]
        swapped[name] = np.moveaxis(by_anchor, 0, 1 + PARAMETER_DIMS[name].index(ANCHOR))
    return swapped


def _effect(question: Question, beside: Untried, drawn: Drawn) -> Array:
    """The question's effect under some draws."""
    rng = np.random.default_rng(SEED)
    a, b = (setup_rows(beside.campaign, question, side) for side in (question.a, question.b))
    both = predict(drawn, a + b, beside.log_mass_ratio, rng)
    cap_kn = min(boat.top_thrust_kn for boat in beside.campaign.boats)
    sides = Predictions(a=rows_of(both, slice(None, len(a))), b=rows_of(both, slice(len(a), None)))
    return measure_draws(question, question.measure, sides, cap_kn, rng).effect


def width_ratios(
    question: Question, beside: Untried, quantities: Sequence[Quantity]
) -> dict[str, Array]:
    """By quantity: its sd for each anchor over that for the one never pulled, ``(anchor,)``.

    Averaged over the question's seabeds; the least over the baseline and both sides' levels:
    what a treatment does may be as open as ever, and hide what the pulls told of the anchor.
    """
    rigs = [SetUp(), question.a, question.b]
    levels = list(dict.fromkeys(tuple(level_vector(beside.campaign, rig.levels)) for rig in rigs))
    seabeds = [seabed.name for seabed in beside.campaign.seabeds]
    wanted = question_seabeds(beside.campaign, question)
    anchors = np.concatenate([beside.own, beside.untried])
    rows = [
        SetUpRow(
            anchor_index=int(anchor),
            seabed_index=seabeds.index(seabed),
            level=level,
            inverse_scope_shift=0.0,
        )
        for anchor, level, seabed in product(anchors, levels, wanted)
    ]
    found = predict(beside.drawn, rows, beside.log_mass_ratio, np.random.default_rng(SEED))
    gaps = beside.drawn["mode_gap"][:, [row.anchor_index for row in rows]]
    shape = (len(gaps), 2, beside.own.size, len(levels), len(wanted))
    return {
        one.on: _least_ratio(one.values(found, gaps).reshape(shape).mean(axis=-1))
        for one in quantities
    }


def _least_ratio(values: Array) -> Array:
    """From draws ``(draw, own or never pulled, anchor, rig)``."""
    ours, others = values.std(axis=0)
    ratio = np.divide(ours, others, out=np.zeros_like(ours), where=others > LEAST_SD)
    least: Array = ratio.min(axis=-1)
    return least
