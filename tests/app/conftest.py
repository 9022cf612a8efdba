"""Made-up answers for pages, with no store and no fit behind them. Everything is invented."""

import datetime as dt
import sys
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from app import data
from app.shown import Look, Moved, Overview
from model.checks.all_checks import run_checks
from model.checks.fit import fit_check
from model.posterior.posterior import Posterior
from model.questions.answer import Alone, Answer, Estimate, MeasureRow, Multiples, Side, Split
from model.questions.ask import answer
from model.questions.bite_modes import bite_modes
from model.questions.setting_modes import set_up_modes, untried
from model.records.answer import (
    AnswerSummary,
    BandSummary,
    Effect,
    Finding,
    Flag,
    Interval,
    NotYet,
    PosteriorSummary,
    PullsSummary,
    QuestionSummary,
    SidePulls,
)
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Measure, Question, SetUp
from model.service import day_plans, fits
from model.service.checks import Checked
from model.service.day_plans import Day
from model.service.modes import Modes
from model.service.next_pulls import NextPulls, next_pulls
from model.service.planning_start import Wish
from model.service.rehearsals import Rehearsal, rehearse_question
from model.service.worker_state import WorkerState
from model.store.revisions import Revision
from model.store.store import Store

MAIN = Path(data.__file__).parent / "main.py"
POSTERIOR = PosteriorSummary(id="0123456789abcdef", state="full", pulls=15, fit_check="passed")

MakeAnswer = Callable[..., Answer]


@pytest.fixture(autouse=True)
def main_module_as_it_was() -> Iterator[None]:
    """A page run for a test is left behind as ``__main__``.

    A process that a later test spawns would run the app at its start, and die of it.
    """
    before = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = before


def _estimate(draws: np.ndarray, unit: str) -> Estimate:
    lower, median, upper = (float(value) for value in np.quantile(draws, [0.05, 0.5, 0.95]))
    return Estimate(median=median, interval=Interval(prob=0.9, lower=lower, upper=upper), unit=unit)


def _side(rng: np.random.Generator, label: str, middle_kn: float, *, is_chance: bool) -> Side:
    load = middle_kn * np.exp(rng.normal(0, 0.08, 500))
    upright = rng.beta(12, 6, 500)
    return Side(
        label=label,
        value=_estimate(upright, "chance") if is_chance else _estimate(load, "kN"),
        load_upright=_estimate(1.15 * load, "kN"),
        load_on_side=_estimate(0.7 * load, "kN"),
        p_upright=_estimate(upright, "chance"),
        p_sets=_estimate(rng.beta(30, 2, 500), "chance"),
    )


def _label(setup: SetUp) -> str:
    levels = " and ".join(f"{name} {level}" for name, level in setup.levels.items())
    return " with ".join(part for part in (setup.anchor, levels) if part) or "the baseline"


def _rows(a: Side, b: Side, effect: Estimate, p_higher: float) -> tuple[MeasureRow, ...]:
    rng = np.random.default_rng(5)
    chance = _estimate(rng.normal(0.08, 0.1, 500), "chance")
    buried = _estimate(np.exp(rng.normal(-0.4, 0.2, 500)), "m")
    ratio = _estimate(np.exp(rng.normal(0.1, 0.1, 500)), "×")
    loads = (Measure.TYPICAL, Measure.BEST, Measure.CAPPED, Measure.NINE_IN_TEN)
    chances = (Measure.UPRIGHT, Measure.SETS, Measure.RESETS)
    del effect
    return (
        *(
            MeasureRow(measure=m, a=a.load_upright, b=b.load_upright, effect=ratio, p_higher=0.87)
            for m in loads
        ),
        *(
            MeasureRow(measure=m, a=a.p_upright, b=b.p_upright, effect=chance, p_higher=p_higher)
            for m in chances
        ),
        MeasureRow(measure=Measure.BURIED, a=buried, b=buried, effect=ratio, p_higher=0.9),
    )


@pytest.fixture
def made_up_answer() -> MakeAnswer:
    """A factory: a question, and how large the effect is on the log or the chance scale."""

    def make(
        question: Question,
        *,
        middle: float = 0.12,
        spread: float = 0.11,
        finding: Finding = Finding.NOT_SETTLED,
        sentence: str | None = None,
        flags: tuple[Flag, ...] = (),
        seed: int = 3,
    ) -> Answer:
        rng = np.random.default_rng(seed)
        is_chance = question.measure.is_chance
        on_scale = rng.normal(middle, spread, 800)
        draws = on_scale if is_chance else np.exp(on_scale)
        band, null = question.band, 0.0 if is_chance else 1.0
        above, below = float(np.mean(draws > band.upper)), float(np.mean(draws < band.lower))
        p_higher = float(np.mean(draws > null))
        found = _estimate(draws, "chance" if is_chance else "×")
        a = _side(rng, _label(question.a), 3.4, is_chance=is_chance)
        b = _side(rng, _label(question.b), 3.0, is_chance=is_chance)
        ratio = _estimate(np.exp(rng.normal(0.04, 0.05, 800)), "×")
        summary = AnswerSummary(
            question=QuestionSummary(
                name=question.name,
                a=question.a.describe(),
                b=question.b.describe(),
                seabed=" and ".join(question.seabeds) or "every seabed",
                measure=str(question.measure),
                band=BandSummary(kind=band.kind, lower=band.lower, upper=band.upper),
            ),
            pulls=PullsSummary(
                a=SidePulls(count=5, held=2, void=0),
                b=SidePulls(count=6, held=1, void=1),
                shared_outings=2,
            ),
            p_higher=p_higher,
            p_above_band=above,
            p_inside_band=1 - above - below,
            p_below_band=below,
            effect=Effect(
                kind="difference" if is_chance else "ratio",
                unit="chance" if is_chance else "×",
                median=found.median,
                interval=found.interval,
            ),
            finding=finding,
            sentence=sentence
            or f"{question.a.describe()} probably does better than {question.b.describe()}, "
            "but this is not settled.",
            flags=flags,
            posterior=POSTERIOR,
        )
        is_typical = question.measure is Measure.TYPICAL
        return Answer(
            question=question,
            summary=summary,
            effect_draws=draws,
            a=a,
            b=b,
            split=Split(load=ratio, upright_only=ratio, through_mode=ratio) if is_typical else None,
            measures=_rows(a, b, found, p_higher),
            multiples=None if is_chance else Multiples(p_twice=0.03, p_four_times=0.0),
            chances_in_ten=round(10 * p_higher) if question.a.anchor is None else None,
            alone=Alone(effect=ratio, p_higher=0.79) if question.a.anchor is not None else None,
        )

    return make


@pytest.fixture
def some_looks() -> tuple[Look, ...]:
    """Four looks that drift upwards."""
    return tuple(
        Look(
            at=dt.datetime(2026, 4, 11 + 3 * number, 18, 0, tzinfo=dt.UTC),
            pulls=4 + 4 * number,
            p_higher=chance,
            finding=Finding.NOT_SETTLED,
            posterior=f"{number:016x}",
        )
        for number, chance in enumerate((0.55, 0.71, 0.83, 0.87))
    )


class MadeUpData:
    """Stands in for app.data; a test changes what it gives or makes it raise."""

    def __init__(self, campaign: Campaign, pulls: tuple[Pull, ...], answer: MakeAnswer) -> None:
        self.campaign = campaign
        self.all_pulls = pulls
        self.answers: dict[str, Answer | NotYet | Exception] = {}
        self.all_looks: tuple[Look, ...] = ()
        self.failure: Exception | None = None
        self.posterior: PosteriorSummary | None = POSTERIOR
        self.asked: list[Question] = []
        self.seen = "as it is"
        self.at_work: WorkerState | None = None
        self.all_modes: dict[bool, Modes] | NotYet | Exception = {}
        self.all_checks: Callable[[], Checked] | NotYet | Exception = NotYet(
            question="", reason="no checks", hint=""
        )
        self.planning: Callable[[], Store] | NotYet = NotYet(
            question="", reason="no store", hint=""
        )
        self.wishes: list[Wish] = []
        self.rehearsed = 0
        self._answer = answer

    def overview(self) -> Overview:
        if self.failure is not None:
            raise self.failure
        void = sum(pull.is_void for pull in self.all_pulls)
        return Overview(
            campaign=self.campaign,
            used_pulls=len(self.all_pulls) - void,
            void_pulls=void,
            posterior=self.posterior,
            news=self.seen,
        )

    def news(self) -> str:
        return self.seen

    def worker(self) -> WorkerState | None:
        return self.at_work

    def pulls(self) -> tuple[Pull, ...]:
        return self.all_pulls

    def ask(self, question: Question) -> Answer | NotYet:
        self.asked.append(question)
        found = self.answers.get(question.name)
        if isinstance(found, Exception):
            raise found
        return self._answer(question) if found is None else found

    def modes(self, *, has_untried: bool = False) -> Modes | NotYet:
        if isinstance(self.all_modes, Exception):
            raise self.all_modes
        if isinstance(self.all_modes, NotYet):
            return self.all_modes
        return self.all_modes[has_untried]

    def checks(self) -> Checked | NotYet:
        if isinstance(self.all_checks, Exception):
            raise self.all_checks
        return self.all_checks if isinstance(self.all_checks, NotYet) else self.all_checks()

    def next_pulls(self, wish: Wish, hours: float) -> NextPulls | NotYet:
        self.wishes.append(wish)
        if isinstance(self.planning, NotYet):
            return self.planning
        return next_pulls(self.planning(), wish, hours=hours, has_outlook=False)

    def plan_day(self, wish: Wish, hours: float) -> Day | NotYet:
        assert not isinstance(self.planning, NotYet)
        return day_plans.plan(self.planning(), wish, hours=hours)

    def rehearse(self, wish: Wish, hours: float, most_pulls: int) -> Rehearsal | NotYet:
        assert not isinstance(self.planning, NotYet)
        self.rehearsed += 1
        return rehearse_question(
            self.planning(), wish, hours=hours, n_campaign=10, most_pulls=most_pulls,
            has_effects=False,
        )  # fmt: skip

    def removed(self) -> tuple[Revision, ...]:
        return ()

    def may_change(self) -> bool:
        return True

    def login_name(self) -> str:
        return "mate"

    def moved(self, question: Question) -> Moved:
        del question
        return Moved(looks=self.all_looks)


@pytest.fixture
def made_up_modes(
    small_campaign: Campaign,
    small_pulls: tuple[Pull, ...],
    made_up_posterior: Callable[..., Posterior],
) -> dict[bool, Modes]:
    """How it sets under made-up draws, without and with set-ups never pulled."""
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=200)
    more = untried(small_campaign, small_pulls)
    bites = bite_modes(posterior, small_pulls)
    return {
        has_untried: Modes(
            campaign=small_campaign,
            posterior=POSTERIOR,
            set_ups=set_up_modes(posterior, small_pulls, more if has_untried else ()),
            bites=bites,
        )
        for has_untried in (False, True)
    }


@pytest.fixture
def planned_store(
    tmp_path: Path,
    small_campaign: Campaign,
    small_pulls: tuple[Pull, ...],
    made_up_posterior: Callable[..., Posterior],
    small_rehearsals: None,
) -> Callable[[], Store]:
    """A store with a made-up fit, made once it is asked for: most pages plan nothing."""
    del small_rehearsals
    made: list[Store] = []

    def planned() -> Store:
        if not made:
            store = Store.create(tmp_path / "planned", small_campaign)
            store.add_pulls(small_pulls, "made up")
            identity = fits.wanted_fingerprint(small_campaign, store.pulls())
            store.save_posterior(
                made_up_posterior(small_campaign, small_pulls, n_draws=200, identity=identity)
            )
            made.append(store)
        return made[0]

    return planned


@pytest.fixture
def made_up_checks(
    small_campaign: Campaign,
    small_pulls: tuple[Pull, ...],
    made_up_posterior: Callable[..., Posterior],
) -> Callable[[], Checked]:
    """What the checks find of made-up draws, worked out once it is asked for."""

    @cache
    def checked() -> Checked:
        posterior = made_up_posterior(small_campaign, small_pulls, n_draws=400)
        found = [answer(one, posterior, small_pulls, table=()) for one in small_campaign.questions]
        return Checked(
            campaign=small_campaign,
            posterior=POSTERIOR,
            fit_check=posterior.fit_check,
            fit=fit_check(posterior.fit_check),
            found=run_checks(posterior, small_pulls, found),
        )

    return checked


@pytest.fixture
def made_up_data(
    small_campaign: Campaign,
    small_pulls: tuple[Pull, ...],
    made_up_answer: MakeAnswer,
    some_looks: tuple[Look, ...],
    made_up_modes: dict[bool, Modes],
    planned_store: Callable[[], Store],
    made_up_checks: Callable[[], Checked],
    monkeypatch: pytest.MonkeyPatch,
) -> MadeUpData:
    """Pages read this in place of a store."""
    found = MadeUpData(small_campaign, small_pulls, made_up_answer)
    found.all_looks = some_looks
    found.all_modes = made_up_modes
    found.planning = planned_store
    found.all_checks = made_up_checks
    for name in (
        "overview",
        "news",
        "worker",
        "pulls",
        "ask",
        "moved",
        "modes",
        "checks",
        "next_pulls",
        "plan_day",
        "rehearse",
        "removed",
        "login_name",
        "may_change",
    ):
        monkeypatch.setattr(data, name, getattr(found, name))
    return found


@pytest.fixture
def page(made_up_data: MadeUpData) -> Callable[..., AppTest]:
    """Open a view of the app on made-up data, on wish behind a link."""
    del made_up_data

    def open_view(name: str = "questions", **parameters: str | list[str]) -> AppTest:
        st.cache_data.clear()
        at = AppTest.from_file(str(MAIN), default_timeout=30)
        at.run()
        if name != "questions":
            at.switch_page(f"views/{name}.py")
        for key, value in parameters.items():
            at.query_params[key] = value
        return at.run()

    return open_view


@pytest.fixture
def require_no_markup() -> Callable[[Sequence[str]], None]:
    """Fail where a page would take a user's words for markup."""

    def require(raw: Sequence[str]) -> None:
        for value in raw:
            for markup in ("<b>", ":red[", "![p](", " -> "):
                assert markup not in value

    return require
