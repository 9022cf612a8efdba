"""A small campaign, its pulls, and posteriors made up without sampling.

Everything here is invented. The draws of a made-up posterior come from the
priors, so that loads and chances are of a sensible size; nothing was fitted.
"""

import datetime as dt
import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import settings
from numpy.typing import NDArray

from model.arrays.campaign_arrays import coordinates, used_pulls
from model.base.errors import FitFailed
from model.base.names import DRAW, MODE, MODES, PARAMETER_DIMS, PULL
from model.base.priors import DEFAULT_PRIORS, Normal
from model.inference.identity import facts_fingerprint
from model.posterior.posterior import CHAIN, LOG_LIKELIHOOD, FitCheck, Posterior, Provenance
from model.questions.answer import Answer, Estimate, MeasureRow, Multiples, Side, Split
from model.questions.sides import side_pulls, summarise_pulls
from model.records.answer import AnswerSummary, Interval
from model.records.campaign import (
    Anchor,
    Boat,
    Campaign,
    Gauge,
    Ladder,
    Outing,
    Seabed,
    Sign,
    Site,
    Step,
)
from model.records.pull import Bite, Ending, ModeSeen, Pull, Start
from model.records.question import Measure, Question, SetUp
from model.records.treatment import Treatment

Draws = NDArray[np.float64]
MadeUpPosterior = Callable[..., Posterior]

LADDER_KN = (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6)
MADE_AT = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)

# The same examples in every run: a test that fails today fails tomorrow. No deadline, since a
# busy machine is no fault of the code.
settings.register_profile("house", derandomize=True, deadline=None, print_blob=True)
settings.load_profile("house")


@pytest.fixture(scope="session", autouse=True)
def no_store_of_the_user(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep every test away from the stores of whoever runs it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("KEDGEWISE_STORE", raising=False)
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("user_data")))
        yield


@pytest.fixture
def small_campaign() -> Campaign:
    """Two anchors, two seabeds, two outings, two treatments, four questions."""
    leader = SetUp(anchor="S6", levels={"leader": "wire 2 m"})
    return Campaign(
        name="Small trials",
        is_invented=True,
        boats=(Boat(name="workboat", top_thrust_kn=4.6, bow_height_m=1.0),),
        gauges=(Gauge(name="cell", repeatability=0.02, resolution_kn=0.05),),
        ladders=(
            Ladder(
                name="steps",
                steps=tuple(Step(load_kn=load, dwell_s=15.0) for load in LADDER_KN),
                final_hold_s=60.0,
            ),
        ),
        outings=tuple(
            Outing(
                name=name,
                date=dt.date(2026, 4, day),
                ladder="steps",
                boat="workboat",
                gauge="cell",
                site="north",
            )
            for name, day in (("day 1", 11), ("day 2", 18))
        ),
        seabeds=(
            Seabed(name="firm sand", seabed_class="sand"),
            Seabed(name="soft mud", seabed_class="mud"),
        ),
        sites=(Site(name="north", seabed="firm sand"), Site(name="south", seabed="soft mud")),
        anchors=(
            Anchor(code="S6", kind="scoop with roll bar", mass_kg=6.0),
            Anchor(code="P9", kind="hinged plough", mass_kg=9.0),
        ),
        treatments=(
            Treatment(name="leader", baseline="chain only", levels=("chain only", "wire 2 m")),
            Treatment(name="chain", baseline="8 mm", levels=("8 mm", "6 mm")),
        ),
        signs=(Sign(name="marker under", points_to="upright"),),
        main_question="leader on S6",
        questions=(
            Question(name="leader on S6", a=leader, b=SetUp(anchor="S6"), seabeds=("firm sand",)),
            Question(name="leader in general", a=SetUp(levels=leader.levels), b=SetUp()),
            Question(
                name="S6 or P9 at 3 kN",
                a=SetUp(anchor="S6"),
                b=SetUp(anchor="P9"),
                measure=Measure.HOLD,
                hold_kn=3.0,
            ),
            Question(
                name="leader and upright", a=leader, b=SetUp(anchor="S6"), measure=Measure.UPRIGHT
            ),
        ),
    )


def _pull(code: str, outing: str, anchor: str, leader: str, *bites: Bite, **more: Any) -> Pull:
    seabed = more.pop("seabed", "firm sand")
    return Pull(
        code=code,
        outing=outing,
        anchor=anchor,
        seabed=seabed,
        site="north" if seabed == "firm sand" else "south",
        levels={"leader": leader, "chain": "8 mm"},
        scope=5.0,
        bites=bites,
        **more,
    )


def _released(load_kn: float, mode: ModeSeen | None = None) -> Bite:
    return Bite(number=1, ending=Ending.RELEASED, load_kn=load_kn, mode=mode)


def _held(mode: ModeSeen | None = None, number: int = 1, start: Start = Start.FRESH) -> Bite:
    return Bite(number=number, start=start, ending=Ending.HELD, load_kn=4.6, held_s=60.0, mode=mode)


@pytest.fixture
def small_pulls() -> tuple[Pull, ...]:
    """Sixteen pulls over both arms, days and seabeds; one never set, one void, one slip."""
    up, side = ModeSeen.UPRIGHT, ModeSeen.ON_SIDE
    plain, wire = "chain only", "wire 2 m"
    never, void = Bite(number=1, ending=Ending.NEVER_SET), Bite(number=1, ending=Ending.VOID)
    slip = (_released(2.0, side), _held(up, number=2, start=Start.AFTER_SLIP))
    return (
        _pull("1", "day 1", "S6", plain, _released(2.6, side)),
        _pull("2", "day 1", "S6", wire, _released(3.9, up)),
        _pull("3", "day 1", "S6", plain, _released(3.2, up)),
        _pull("4", "day 1", "S6", wire, _held(up)),
        _pull("5", "day 1", "S6", plain, _released(2.0)),
        _pull("6", "day 1", "P9", plain, never),
        _pull("7", "day 1", "P9", wire, _released(2.6)),
        _pull("8", "day 1", "P9", plain, void, reason="fouled on old line"),
        _pull("1", "day 2", "S6", wire, *slip),
        _pull("2", "day 2", "S6", plain, _released(3.2)),
        _pull("3", "day 2", "S6", wire, _released(4.6, up)),
        _pull("4", "day 2", "S6", plain, _held(up)),
        _pull("5", "day 2", "P9", plain, _released(2.0, side), seabed="soft mud"),
        _pull("6", "day 2", "P9", wire, _released(1.5, side), seabed="soft mud"),
        _pull("7", "day 2", "S6", plain, _released(1.5), seabed="soft mud"),
        _pull("8", "day 2", "S6", wire, _released(2.0), seabed="soft mud"),
    )


def _coords(campaign: Campaign, pulls: Sequence[Pull]) -> dict[str, list[str]]:
    return {
        **coordinates(campaign),
        MODE: list(MODES),
        PULL: [pull.id for pull in used_pulls(pulls)],
    }


def _half_normal(rng: np.random.Generator, scale: float, shape: tuple[int, ...]) -> Draws:
    return scale * np.abs(rng.normal(size=shape))


def _below(rng: np.random.Generator, scale: Draws, shape: tuple[int, ...]) -> Draws:
    """Deviations of the given shape, each draw with its own scale."""
    return scale.reshape(-1, *(1 for _ in shape[1:])) * rng.normal(size=shape)


_SCALED = {  # variable -> the scale it is drawn with
    "anchor_load": "anchor_load_scale",
    "anchor_seabed_load": "anchor_seabed_load_scale",
    "site_load": "site_load_scale",
    "treatment_anchor_load": "treatment_anchor_load_scale",
    "treatment_seabed_load": "treatment_seabed_load_scale",
    "day_load": "day_load_scale",
    "anchor_scatter": "anchor_scatter_scale",
    "anchor_upright": "anchor_upright_scale",
    "anchor_seabed_upright": "anchor_seabed_upright_scale",
    "treatment_anchor_upright": "treatment_anchor_upright_scale",
    "day_upright": "day_upright_scale",
    "anchor_sets": "anchor_sets_scale",
    "anchor_resets": "anchor_resets_scale",
    "anchor_turns": "anchor_turns_scale",
    "anchor_buried": "anchor_buried_scale",
    "treatment_anchor_buried": "treatment_anchor_buried_scale",
}


def _parameter_draws(
    rng: np.random.Generator, campaign: Campaign, sizes: Mapping[str, int]
) -> dict[str, Draws]:
    priors = DEFAULT_PRIORS
    shapes = {
        name: (sizes[DRAW], *(sizes[dim] for dim in dims)) for name, dims in PARAMETER_DIMS.items()
    }
    draws: dict[str, Draws] = {
        name: _half_normal(rng, getattr(priors, name), shape)
        for name, shape in shapes.items()
        if name.endswith("_scale")
    }
    for name, scale in _SCALED.items():
        draws[name] = _below(rng, draws[scale], shapes[name])
    for name, shape in shapes.items():
        prior = getattr(priors, name, None)
        if isinstance(prior, Normal):
            draws[name] = rng.normal(prior.mean, prior.sd, size=shape)
    exponents = [priors.mass_exponent[seabed.seabed_class] for seabed in campaign.seabeds]
    draws["mass_exponent"] = np.stack(
        [rng.normal(prior.mean, prior.sd, size=sizes[DRAW]) for prior in exponents], axis=-1
    )
    draws["mode_gap"] = np.exp(
        draws["mode_gap_centre"][:, None] + _below(rng, draws["mode_gap_scale"], shapes["mode_gap"])
    )
    draws["hold_exponent"] = _half_normal(rng, priors.hold_exponent_scale, shapes["hold_exponent"])
    draws["boat_bias"] = rng.normal(0.0, 0.05, size=shapes["boat_bias"])
    draws["spoilt_share"] = rng.beta(priors.spoilt_share.a, priors.spoilt_share.b, size=sizes[DRAW])
    for name in ("seen_upright_rate", "seen_on_side_rate"):
        draws[name] = rng.beta(priors.seen_rate.a, priors.seen_rate.b, size=sizes[DRAW])
    for name, pointed_at in (("sign_upright_rate", "upright"), ("sign_on_side_rate", "on_side")):
        rates = [
            priors.sign_pointed_at if sign.points_to == pointed_at else priors.sign_pointed_away
            for sign in campaign.signs
        ]
        drawn = [rng.beta(prior.a, prior.b, size=sizes[DRAW]) for prior in rates]
        draws[name] = np.stack(drawn, axis=-1) if drawn else np.empty(shapes[name])
    for name in ("scope_slope", "gauge_scatter", "buried_gap", "buried_scatter"):  # log-normal
        draws[name] = np.exp(draws[name])
    return draws


@pytest.fixture
def made_up_posterior() -> MadeUpPosterior:
    """A factory of posteriors whose draws come from the priors; see its signature.

    ``shift`` maps a variable to what is added to all its draws, as
    ``{"treatment_load": 0.5}`` for treatments that help; ``status`` is the
    fit check's; ``identity`` the posterior's id.
    """

    def make(
        campaign: Campaign,
        pulls: Sequence[Pull],
        *,
        n_draws: int = 400,
        seed: int = 0,
        shift: Mapping[str, float] | None = None,
        status: str = "passed",
        identity: str | None = None,
    ) -> Posterior:
        rng = np.random.default_rng(seed)
        coords = _coords(campaign, pulls)
        sizes = {DRAW: n_draws, **{dim: len(labels) for dim, labels in coords.items()}}
        values = _parameter_draws(rng, campaign, sizes)
        variables = {
            name: ((DRAW, *dims), values[name] + (shift or {}).get(name, 0.0))
            for name, dims in PARAMETER_DIMS.items()
        }
        log_likelihood = -np.abs(rng.normal(1.0, 0.3, size=(n_draws, sizes[PULL])))
        draws = xr.Dataset(
            {**variables, LOG_LIKELIHOOD: ((DRAW, PULL), log_likelihood)},
            coords={
                **{dim: np.asarray(labels, dtype=str) for dim, labels in coords.items()},
                CHAIN: (DRAW, np.arange(n_draws) * 4 // n_draws),
            },
        )
        facts = hashlib.sha256(repr((campaign, sorted(map(repr, pulls)))).encode()).hexdigest()
        provenance = Provenance(
            id=identity or hashlib.sha256(f"{facts}/{seed}".encode()).hexdigest()[:16],
            pulls_fingerprint=facts_fingerprint(campaign, pulls),
            pull_ids=tuple(coords[PULL]),
            model_version="made-up",
            priors=DEFAULT_PRIORS.canonical(),
            settings={"draws": n_draws},
            seed=seed,
            made_at=MADE_AT,
            duration_s=0.0,
        )
        failed = status != "passed"
        fit_check = FitCheck.model_validate(
            {
                "status": status,
                "reasons": ("12 divergences",) if failed else (),
                "divergences": 12 if failed else 0,
                "rhat_max": 1.002,
                "bfmi_min": 0.9,
                "ess_bulk_min": 900.0,
                "ess_tail_min": 800.0,
            }
        )
        return Posterior(draws=draws, campaign=campaign, provenance=provenance, fit_check=fit_check)

    return make


MadeUpAnswer = Callable[..., Answer]


def _estimate(median: float, unit: str = "kN") -> Estimate:
    interval = Interval(prob=0.9, lower=0.8 * median, upper=1.2 * median)
    return Estimate(median=median, interval=interval, unit=unit)


def _side(label: str, load_kn: float) -> Side:
    return Side(
        label=label,
        value=_estimate(load_kn),
        load_upright=_estimate(1.2 * load_kn),
        load_on_side=_estimate(0.8 * load_kn),
        p_upright=_estimate(0.6, "chance"),
        p_sets=_estimate(0.9, "chance"),
    )


def _made_up_summary(
    question: Question, posterior: Posterior, pulls: Sequence[Pull], p_higher: float, finding: str
) -> AnswerSummary:
    return AnswerSummary.model_validate(
        {
            "question": {
                "name": question.name,
                "a": question.a.describe(),
                "b": question.b.describe(),
                "seabed": ", ".join(question.seabeds) or "every seabed",
                "measure": question.measure,
                "band": question.band.model_dump(),
            },
            "pulls": summarise_pulls(
                *(
                    side_pulls(posterior.campaign, question, setup, pulls)
                    for setup in (question.a, question.b)
                )
            ).model_dump(),
            "p_higher": p_higher,
            "p_above_band": 0.75 * p_higher,
            "p_inside_band": 0.25 * p_higher,
            "p_below_band": 1 - p_higher,
            "effect": {
                "kind": question.band.kind,
                "unit": "×" if question.band.kind == "ratio" else "chance",
                "median": 1.2 if question.band.kind == "ratio" else 0.12,
                "interval": {"prob": 0.9, "lower": 0.05, "upper": 1.5},
            },
            "finding": finding,
            "sentence": f"Made up: {finding}.",
            "flags": [{"code": "made_up", "text": "Nothing was fitted."}],
            "posterior": posterior.summary.model_dump(),
        }
    )


@pytest.fixture
def made_up_answer() -> MadeUpAnswer:
    """Stands in for ``model.questions.ask.answer``: the share of draws that favour treatments.

    Its finding is *higher* where that share is 0.95 at this look and the last
    one; its other figures mean nothing.
    """

    def make(
        question: Question,
        posterior: Posterior,
        pulls: Sequence[Pull],
        *,
        looks: Sequence[AnswerSummary] = (),
    ) -> Answer:
        effect_draws = posterior.draws["treatment_load"].to_numpy()[:, 0]
        p_higher = float((effect_draws > 0).mean())
        is_settled = p_higher >= 0.95 and bool(looks) and looks[-1].p_higher >= 0.95
        finding = "higher" if is_settled else "not settled"
        ratio = _estimate(1.1, "×")
        return Answer(
            question=question,
            summary=_made_up_summary(question, posterior, pulls, p_higher, finding),
            effect_draws=effect_draws,
            a=_side("A", 3.0),
            b=_side("B", 2.5),
            split=Split(load=ratio, upright_only=ratio, through_mode=ratio),
            measures=(
                MeasureRow(
                    measure=Measure.TYPICAL,
                    a=_estimate(3.0),
                    b=_estimate(2.5),
                    effect=ratio,
                    p_higher=p_higher,
                ),
            ),
            multiples=Multiples(p_twice=0.02, p_four_times=0.0),
            chances_in_ten=None,
        )

    return make


class StandInFitter:
    """Makes posteriors up; `status` and `shift` are those of the next one, `calls` the pulls."""

    def __init__(self, make: Callable[..., Posterior]) -> None:
        self._make = make
        self.calls: list[int] = []
        self.status = "passed"
        self.draws = 40
        self.shift = {"treatment_load": 0.5}
        self.error: BaseException | None = None

    def fit(
        self,
        campaign: Campaign,
        pulls: Sequence[Pull],
        *,
        progress: Callable[[float, str], None] | None = None,
        settings: object = None,
    ) -> Posterior:
        self.calls.append(len(pulls))
        if progress is not None:
            progress(0.5, "half way")
        if self.error is not None:
            raise self.error
        from model.service import fits

        identity = fits.wanted_fingerprint(campaign, pulls)
        return self._make(
            campaign,
            pulls,
            n_draws=self.draws,
            identity=identity,
            status=self.status,
            shift=self.shift,
        )

    def fail(self) -> None:
        self.error = FitFailed("no usable draw")


@pytest.fixture
def fitter(made_up_posterior: MadeUpPosterior) -> StandInFitter:
    """Stands in for the sampler."""
    return StandInFitter(made_up_posterior)


@pytest.fixture
def small_rehearsals(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rehearsals and day plans of few campaigns and draws: what they say means little."""
    from functools import partial

    from model.planning import day_plan, rehearsal
    from model.service import day_plans, next_pulls

    monkeypatch.setattr(rehearsal, "Settings", partial(rehearsal.Settings, n_draw=2000))
    monkeypatch.setattr(rehearsal, "POOL", 2000)
    monkeypatch.setattr(rehearsal, "MOVED_DRAWS", 500)
    monkeypatch.setattr(rehearsal, "WORTH_SHARED", 50.0)
    monkeypatch.setattr(rehearsal, "WORTH_OWN", 50.0)
    monkeypatch.setattr(day_plan, "PLAN_DRAWS", 500)
    monkeypatch.setattr(day_plan, "COURSES", 4)
    for service in (day_plans, next_pulls):
        monkeypatch.setattr(service, "CAMPAIGNS", 10)
