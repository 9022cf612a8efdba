"""Where planning begins: the draws, what can be pulled, how the questions stand."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrays.campaign_arrays import campaign_arrays, coordinates, log_mass_ratios
from model.base.errors import InputError
from model.base.priors import DEFAULT_PRIORS, Normal, Priors
from model.outcomes.prediction import SetUpRow, predict
from model.outcomes.prior_draws import prior_draws
from model.outcomes.shape import Shape
from model.planning.candidates import Candidate, side_of
from model.planning.information import Regions, regions
from model.planning.outcome_table import TOLD_BY_FIRST_BITES, OutcomeSpace
from model.planning.reduced import Reduced, reduce
from model.posterior.posterior import Posterior
from model.questions.effect import Predictions, band_ends, measure_draws, parameters_of
from model.questions.readings import Readings, newest_readings
from model.questions.sensitivity import EFFECT_PARAMETER, acts_through_scope, changed_levels
from model.questions.settling import NOTHING_DIFFERS, is_about_one_more
from model.questions.sides import reach_kn, setup_rows, side_pulls
from model.records.answer import Finding
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question

Array = NDArray[np.float64]
BURIED: Final = frozenset({"log_buried", "log_buried_gap"})
LATER_BITES: Final = frozenset({"logit_resets", "logit_turns", "later_load", "later_logit"})
OF_FIRST_BITES: Final = frozenset(
    {Measure.TYPICAL, Measure.CAPPED, Measure.NINE_IN_TEN, Measure.UPRIGHT, Measure.SETS}
)
DAY_SEED = 20_261_201
"""Of the day that is planned: fixed, so that asked again a plan is the same."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One question as planning needs it.

    Parameters
    ----------
    a_rows, b_rows : (row,) int
        Rows of the reduced draws that each side averages over.
    cap_kn : float
        Where the measure ``capped`` cuts off, kN.
    n_a, n_b : int
        Used pulls behind each side so far.
    shares_a_day : bool
        Whether both sides were pulled on one outing already.
    last_look : Finding or None
        What the newest answer's draws alone would say; None before the first.
    doubled : tuple of str
        Names among the reduced draws of what a doubled prior is about, in its sd.
    never : str
        Why no number of these pulls can settle it; empty where one may.
    """

    question: Question
    weight: float
    a_rows: NDArray[np.int64]
    b_rows: NDArray[np.int64]
    cap_kn: float
    n_a: int = 0
    n_b: int = 0
    shares_a_day: bool = False
    last_look: Finding | None = None
    doubled: tuple[str, ...] = ()
    never: str = ""

    @property
    def still(self) -> frozenset[str]:
        """What of the draws neither this question's effect nor a planned pull goes by."""
        return BURIED | LATER_BITES if self.question.measure in OF_FIRST_BITES else BURIED

    def effect(self, draws: Reduced) -> Array:
        """The effect under each draw, on the scale of the band's ends."""
        sides = Predictions(a=draws.prediction(self.a_rows), b=draws.prediction(self.b_rows))
        rng = np.random.default_rng(DAY_SEED)  # no measure that is planned for draws anything
        return measure_draws(self.question, self.question.measure, sides, self.cap_kn, rng).effect

    def regions(self, draws: Reduced) -> Regions:
        """The region of each draw's effect."""
        return regions(self.effect(draws), band_ends(self.question.band), self.weight)


@dataclass(frozen=True, kw_only=True)
class Start:
    """Draws in their reduced form, and all that planning asks of the campaign.

    Parameters
    ----------
    rows : (candidate,) int
        Which row of the reduced draws each candidate is.
    sides : tuple of tuple of str
        For each question whose own pull each candidate is: ``a``, ``b`` or neither.
    """

    campaign: Campaign
    candidates: tuple[Candidate, ...]
    asked: tuple[Asked, ...]
    draws: Reduced
    rows: NDArray[np.int64]
    sides: tuple[tuple[str, ...], ...]
    space: OutcomeSpace
    boat: str

    @property
    def main(self) -> Asked:
        """The first question."""
        return self.asked[0]

    def keeping(self, wanted: Sequence[Candidate]) -> "Start":
        """The same with some of the candidates only, in the order given."""
        places = [self.candidates.index(one) for one in wanted]
        return replace(
            self,
            candidates=tuple(wanted),
            rows=self.rows[places],
            sides=tuple(tuple(side[place] for place in places) for side in self.sides),
        )

    def only_main(self) -> "Start":
        """The same with the main question alone."""
        return replace(self, asked=self.asked[:1], sides=self.sides[:1])

    def narrowed(self) -> "Start":
        """The same with the draws of only those rows that its candidates and main question need."""
        rows = np.unique(np.concatenate([self.rows, self.main.a_rows, self.main.b_rows]))
        place = {int(row): index for index, row in enumerate(rows)}

        def of(wanted: NDArray[np.int64]) -> NDArray[np.int64]:
            return np.array([place[int(row)] for row in wanted], dtype=np.int64)

        main = replace(self.main, a_rows=of(self.main.a_rows), b_rows=of(self.main.b_rows))
        by_row = {name: values[rows] for name, values in self.draws.by_row.items()}
        return replace(
            self,
            asked=(main,),
            sides=self.sides[:1],
            rows=of(self.rows),
            draws=Reduced(by_row=by_row, by_draw=self.draws.by_draw),
        )


def require_plannable(question: Question) -> None:
    """Refuse a question that no pull can settle, or whose measure is not told by first bites.

    Raises
    ------
    InputError
    """
    if is_about_one_more(question):
        raise InputError(
            f"{question.name!r} is about one more pull or anchor: a chance, which no pull settles",
            hint="Plan for it by another measure, or over this campaign's anchors.",
        )
    if question.measure not in TOLD_BY_FIRST_BITES:
        told = ", ".join(one.value for one in Measure if one in TOLD_BY_FIRST_BITES)
        raise InputError(
            f"{question.name!r} is about the measure {question.measure.value}, and what is planned "
            "for is told by how a pull's first bite ends",
            hint=f"Plan for a question by one of: {told}; pulls for it tell of this one as well.",
        )


def start_of_posterior(
    posterior: Posterior,
    pulls: Sequence[Pull],
    questions: Sequence[tuple[Question, float]],
    candidates: Sequence[Candidate],
    *,
    has_camera: bool,
    today: str | None = None,
    last_looks: Mapping[str, Finding] | None = None,
) -> Start:
    """Begin where a fit and its pulls have left things.

    Parameters
    ----------
    pulls : sequence of Pull
        Those the posterior rests on, void ones included.
    questions : sequence of (Question, float)
        With their weights; the first is the main one.
    today : str or None
        An outing of the posterior's campaign that goes on today; None for a new day.
    last_looks : mapping of str to Finding
        By question: what its newest answer's draws alone would say.

    Raises
    ------
    InputError
        If nothing is left to pull, no ladder is known, or a question cannot be planned for.
    """
    parameters = parameters_of(posterior)
    asked, looks = [], last_looks or {}
    for question, weight in questions:
        require_plannable(question)
        a, b = (side_pulls(posterior.campaign, question, setup, pulls)
                for setup in (question.a, question.b))  # fmt: skip
        asked.append(
            {
                "question": question,
                "weight": weight,
                "cap_kn": reach_kn(posterior.campaign, (*a.used, *b.used))[0],
                "n_a": len(a.used),
                "n_b": len(b.used),
                "shares_a_day": bool(a.outings & b.outings),
                "last_look": looks.get(question.name),
            }
        )
    priors = Priors.of(posterior.provenance.priors)
    doubled = [_doubled(posterior.campaign, priors, parameters, one) for one, _ in questions]
    return _start(
        posterior.campaign, parameters, asked, doubled, candidates,
        has_camera=has_camera, today=today,
    )  # fmt: skip


def start_of_priors(
    campaign: Campaign,
    questions: Sequence[tuple[Question, float]],
    candidates: Sequence[Candidate],
    *,
    has_camera: bool,
    n_draw: int = 4000,
    seed: int = 1,
    priors: Priors = DEFAULT_PRIORS,
) -> Start:
    """Begin before the first pull, from the priors alone.

    Raises
    ------
    InputError
        As for :func:`start_of_posterior`.
    """
    for question, _ in questions:
        require_plannable(question)
    rng = np.random.default_rng([seed, DAY_SEED])
    arrays = campaign_arrays(campaign, ())
    parameters = prior_draws(arrays, priors, Shape.of(campaign), n_draw, rng)
    asked = [
        {"question": question, "weight": weight, "cap_kn": reach_kn(campaign, ())[0]}
        for question, weight in questions
    ]
    doubled = [_doubled(campaign, priors, parameters, one) for one, _ in questions]
    return _start(
        campaign, parameters, asked, doubled, candidates, has_camera=has_camera, today=None
    )


def _start(
    campaign: Campaign,
    parameters: Mapping[str, Array],
    asked: Sequence[dict[str, object]],
    doubled: Sequence[Mapping[str, Array]],
    candidates: Sequence[Candidate],
    *,
    has_camera: bool,
    today: str | None,
) -> Start:
    readings = _readings(campaign, parameters, today)
    if not candidates:
        raise InputError(
            "nothing is left to pull",
            hint="Rule out less: an anchor, a level, a scope and a seabed must be aboard.",
        )
    sides = [
        tuple(setup_rows(campaign, question, setup) for setup in (question.a, question.b))
        for question in (one["question"] for one in asked)
        if isinstance(question, Question)
    ]
    wanted = [candidate.row(campaign) for candidate in candidates]
    rows = list(dict.fromkeys([*wanted, *(row for a, b in sides for row in (*a, *b))]))
    rng = np.random.default_rng(DAY_SEED)
    prediction = predict(parameters, rows, log_mass_ratios(campaign), rng)
    also = {name: values for one in doubled for name, values in one.items()}
    reached_kn = reach_kn(campaign, ())[1]
    day = _today(campaign, parameters, today, rng)
    draws = reduce(prediction, parameters, readings, day, also)
    return Start(
        campaign=campaign,
        candidates=tuple(candidates),
        asked=tuple(
            _with_never(
                Asked(
                    a_rows=_places(rows, a),
                    b_rows=_places(rows, b),
                    doubled=tuple(names),
                    **one,  # type: ignore[arg-type]
                ),
                draws,
                max(reached_kn, readings.ladder.top_kn),
            )
            for one, (a, b), names in zip(asked, sides, doubled, strict=True)
        ),
        draws=draws,
        rows=_places(rows, wanted),
        sides=tuple(
            tuple(side_of(campaign, one["question"], candidate) for candidate in candidates)  # type: ignore[arg-type]
            for one in asked
        ),
        space=OutcomeSpace(ladder=readings.ladder, has_camera=has_camera),
        boat=readings.boat,
    )


def _with_never(asked: Asked, draws: Reduced, reached_kn: float) -> Asked:
    """The same, with why no pull can settle it, as the rule for answers has it.

    Parameters
    ----------
    reached_kn : float
        The strongest step that its pulls have had, or planned ones have, kN.
    """
    hold_kn = asked.question.hold_kn
    if np.ptp(asked.effect(draws)) == 0.0:
        return replace(asked, never=NOTHING_DIFFERS)
    if hold_kn is not None and hold_kn > reached_kn:
        return replace(asked, never="the load is more than any of these pulls could reach")
    return asked


def _readings(campaign: Campaign, parameters: Mapping[str, Array], today: str | None) -> Readings:
    readings = newest_readings(campaign, parameters, outing=today)
    if readings is None:
        raise InputError(
            "no outing of this campaign has a ladder, and a pull is planned by its steps",
            hint="Name the next outing's ladder in the campaign file, and run `kedgewise new`.",
        )
    return readings


def _places(rows: Sequence[SetUpRow], wanted: Sequence[SetUpRow]) -> NDArray[np.int64]:
    place = {row: index for index, row in enumerate(rows)}
    return np.array([place[row] for row in wanted], dtype=np.int64)


def _today(
    campaign: Campaign,
    parameters: Mapping[str, Array],
    outing: str | None,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """The day's effects under each draw: those of an outing that goes on, or of a new day."""
    if outing is not None:
        index = coordinates(campaign)["outing"].index(outing)
        return parameters["day_load"][:, index], parameters["day_upright"][:, index]
    n_draw = len(parameters["day_load_scale"])
    return (
        parameters["day_load_scale"] * rng.standard_normal(n_draw),
        parameters["day_upright_scale"] * rng.standard_normal(n_draw),
    )


def _doubled(
    campaign: Campaign, priors: Priors, parameters: Mapping[str, Array], question: Question
) -> dict[str, Array]:
    """What a doubled prior is about, each in sd of its prior from the prior's mean or from 0."""
    found: dict[str, Array] = {}
    name = EFFECT_PARAMETER.get(question.measure, "treatment_load")
    if name is not None:
        prior: Normal = getattr(priors, name)
        for level in changed_levels(campaign, question):
            found[f"{question.name}/{name}/{level}"] = parameters[name][:, level] / prior.sd
    if acts_through_scope(campaign, question):
        log_slope = np.log(parameters["scope_slope"])
        found[f"{question.name}/scope"] = (log_slope - priors.scope_slope.mean) / (
            priors.scope_slope.sd
        )
    return found
