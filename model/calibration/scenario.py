"""The fixed list of simulated campaigns of a table, made before the first is run."""

import json
from pathlib import Path
from typing import Final, Literal

from pydantic import Field

from model.base.errors import InputError
from model.calibration.files import read_whole, write_atomically
from model.records.base import Record

COMPARISONS: Final = "comparisons"
"""Table of three-pull-a-side comparisons."""

HOLLOW_SOUND: Final = "hollow_sound"
"""Table of the demo's standing questions over seeds of its pulls."""

HOLLOW_SOUND_SEEDS: Final = 40
"""Seeds 1 to this; 1 is that of the published demo data. Fixed before the first was run."""

WHAT_IS_SEEN: Final = "what_is_seen"
"""Table of setting modes nobody saw, and of effects on load, setting and burial."""

RANKS: Final = "ranks"
"""Table of where truths stand among their draws."""

QUICK_ANSWERS: Final = "quick_answers"
"""Table of quick answers beside the full fits of the same pulls."""

CAMPAIGNS: Final = 200
"""Even numbers have a truth from the priors, odd ones a fixed truth off them."""

FIRST_SEED: Final = 20_260_000
"""Seed of campaign number 0; campaign k has this plus k. Not chosen by what came out."""

SEEN_CAMPAIGNS: Final = 560
"""Of 28, three lose the camera in what digs in; the other 500 in all have a truth from the
priors, and every fifth of them is fitted once more without its burial and signs."""

FIRST_SEEN_SEED: Final = 20_270_000
CAMERA_LOST_PLACES: Final = (9, 18, 27)  # of 28, so that a part of the plan holds its share
FITTED_TWICE_EVERY: Final = 5

RANKED_CAMPAIGNS: Final = 500
FIRST_RANKED_SEED: Final = 20_290_000
QUICK_CAMPAIGNS: Final = 100
"""Truths as in the comparisons; 1, 3 and 5 new pulls in turn, and after every three campaigns
from the day that was begun to a day of their own and back."""
FIRST_QUICK_SEED: Final = 20_280_000
NEW_PULLS: Final = (1, 3, 5)

LOST_CAMERA: Final = "lost_camera"
"""Table of an anchor that loses the camera when it digs in."""

LOST_CAMERA_CAMPAIGNS: Final = 40
FIRST_LOST_CAMERA_SEED: Final = 20_300_000

ANSWERS: Final = "answers"
"""Table of every answer and parameter over the whole way, with truths from the priors."""

ANSWERS_AGAIN: Final = "answers_demo"
"""Table of the same with truths from the fit of the demo's pulls."""

ANSWERS_RETRIED: Final = "answers_retried"
"""Table of the first of the same campaigns as a user gets them: fitted again where the check
fails, and refused where it fails to the end. Elsewhere one attempt's draws count, passed or not."""

ANSWERED_CAMPAIGNS: Final = 1000
RETRIED_CAMPAIGNS: Final = 42
FIRST_ANSWERED_SEED: Final = 20_310_000
AGAIN_CAMPAIGNS: Final = 40
FIRST_AGAIN_SEED: Final = 20_320_000
WRONG_WORLDS: Final = "wrong_worlds"
"""Table of answers where the world is not the model's."""

RIGHT_WORLD: Final = "the model's own world"
HEAVIER_TAILS: Final = "heavier tails"
THIRD_MODE: Final = "a third mode"
DRIFT_BALANCED: Final = "a drift in the day, order of arms turned about"
DRIFT_ARM_BY_ARM: Final = "a drift in the day, one arm after the other"
MIS_STATED_LADDER: Final = "a mis-stated ladder"
MISREAD_MODES: Final = "one mode in five misread"
HALF_NULL: Final = "half the treatments exactly null"
WORLDS: Final = (
    RIGHT_WORLD,
    HEAVIER_TAILS,
    THIRD_MODE,
    DRIFT_BALANCED,
    DRIFT_ARM_BY_ARM,
    MIS_STATED_LADDER,
    MISREAD_MODES,
    HALF_NULL,
)
"""In turn, so that a run that is stopped has gone about equally far in all."""

CAMPAIGNS_A_WORLD: Final = 60
FIRST_WRONG_WORLD_SEED: Final = 20_330_000
"""Of the first campaign of every world: the same seeds for all, so that differences are paired."""

SCATTERS: Final = (0.10, 0.25)  # log sd in both modes
GAPS: Final = (0.2, 0.8)  # log load, upright over on its side
RATIOS: Final = (1.10, 0.90, 1.25, 0.75)  # true typical-load ratio of the treatment that works

PLAN_FILE: Final = "plan.json"


class FixedTruth(Record):
    """What is fixed in a campaign off the priors; the rest follows one stated rule.

    Parameters
    ----------
    scatter : float
        Standard deviation of log load in both modes.
    gap : float
        Log ratio of the modes' loads, the same for every anchor.
    ratios : tuple of float
        True typical-load ratio of each treatment, the same for every anchor; 1 is exactly null.
    """

    scatter: float = Field(gt=0)
    gap: float = Field(gt=0)
    ratios: tuple[float, float]


Truth = Literal["prior", "fixed", "demo", "camera lost", "demo's fit"]
Without = Literal["", "burial and signs", "not seen"]
BURIAL_AND_SIGNS: Final = "burial and signs"
NOT_SEEN_TERM: Final = "not seen"


class Scenario(Record):
    """One simulated campaign: where its truth comes from, and its seed.

    Parameters
    ----------
    without : str
        What a second fit of the same pulls does not get to know; empty for no second fit.
    new_pulls : int
        How many of the last pulls are weighed in, and not fitted at first.
    is_new_day : bool
        Whether those are all on a day that the first fit does not know.
    world : str
        One of :data:`WORLDS`; empty in a table that has only the model's own.
    """

    table: str
    number: int = Field(ge=0)
    seed: int = Field(ge=0)
    truth: Truth
    fixed: FixedTruth | None = None
    without: Without = ""
    new_pulls: int = Field(default=0, ge=0)
    is_new_day: bool = False
    world: str = ""


class TablePlan(Record):
    """Every campaign of a table, in order."""

    table: str
    scenarios: tuple[Scenario, ...]


def comparisons_plan(campaigns: int = CAMPAIGNS) -> TablePlan:
    """The plan of the table of comparisons: half from the priors, half off them.

    In each campaign off the priors one treatment is exactly null and the other
    works, so that half of these comparisons have no effect at all; scatter, gap,
    ratio and which one works go round in a full cycle of 32.
    """
    return TablePlan(
        table=COMPARISONS,
        scenarios=tuple(_scenario(number) for number in range(campaigns)),
    )


def _scenario(number: int) -> Scenario:
    is_fixed = number % 2 == 1
    return Scenario(
        table=COMPARISONS,
        number=number,
        seed=FIRST_SEED + number,
        truth="fixed" if is_fixed else "prior",
        fixed=_fixed_truth(number // 2) if is_fixed else None,
    )


def _fixed_truth(place: int) -> FixedTruth:
    ratio = RATIOS[place // 4 % 4]
    return FixedTruth(
        scatter=SCATTERS[place % 2],
        gap=GAPS[place // 2 % 2],
        ratios=(1.0, ratio) if place // 16 % 2 == 0 else (ratio, 1.0),
    )


def hollow_sound_plan(seeds: int = HOLLOW_SOUND_SEEDS) -> TablePlan:
    """The plan of the demo's table: the demo's truth, and the first seeds in order."""
    return TablePlan(
        table=HOLLOW_SOUND,
        scenarios=tuple(
            Scenario(table=HOLLOW_SOUND, number=seed, seed=seed, truth="demo")
            for seed in range(1, seeds + 1)
        ),
    )


def what_is_seen_plan(campaigns: int = SEEN_CAMPAIGNS) -> TablePlan:
    """The plan of the table of what is seen, its kinds spread evenly over it."""
    return TablePlan(
        table=WHAT_IS_SEEN,
        scenarios=tuple(_seen_scenario(number) for number in range(campaigns)),
    )


def _seen_scenario(number: int) -> Scenario:
    is_lost = number % 28 in CAMERA_LOST_PLACES
    from_priors: Without = BURIAL_AND_SIGNS if number % FITTED_TWICE_EVERY == 0 else ""
    return Scenario(
        table=WHAT_IS_SEEN,
        number=number,
        seed=FIRST_SEEN_SEED + number,
        truth="camera lost" if is_lost else "prior",
        without=NOT_SEEN_TERM if is_lost else from_priors,
    )


def ranks_plan(campaigns: int = RANKED_CAMPAIGNS) -> TablePlan:
    """The plan of the table of ranks: other seeds than what is seen, all from the priors."""
    return _alike(RANKS, FIRST_RANKED_SEED, campaigns, "prior")


def answers_plan(campaigns: int = ANSWERED_CAMPAIGNS) -> TablePlan:
    """The plan of the table of answers."""
    return _alike(ANSWERS, FIRST_ANSWERED_SEED, campaigns, "prior")


def answers_retried_plan(campaigns: int = RETRIED_CAMPAIGNS) -> TablePlan:
    """The plan of the first of the same campaigns with every retry."""
    return _alike(ANSWERS_RETRIED, FIRST_ANSWERED_SEED, campaigns, "prior")


def answers_again_plan(campaigns: int = AGAIN_CAMPAIGNS) -> TablePlan:
    """The plan of the table of answers whose truths are draws of the demo's fit."""
    return _alike(ANSWERS_AGAIN, FIRST_AGAIN_SEED, campaigns, "demo's fit")


def _alike(table: str, first_seed: int, campaigns: int, truth: Truth) -> TablePlan:
    """Campaigns that differ in nothing but their seed."""
    return TablePlan(
        table=table,
        scenarios=tuple(
            Scenario(table=table, number=number, seed=first_seed + number, truth=truth)
            for number in range(campaigns)
        ),
    )


def quick_answers_plan(campaigns: int = QUICK_CAMPAIGNS) -> TablePlan:
    """The plan of the table of quick answers."""
    return TablePlan(
        table=QUICK_ANSWERS,
        scenarios=tuple(
            Scenario(
                table=QUICK_ANSWERS,
                number=number,
                seed=FIRST_QUICK_SEED + number,
                truth="fixed" if number % 2 == 1 else "prior",
                fixed=_fixed_truth(number // 2) if number % 2 == 1 else None,
                new_pulls=NEW_PULLS[number % len(NEW_PULLS)],
                is_new_day=number // len(NEW_PULLS) % 2 == 1,
            )
            for number in range(campaigns)
        ),
    )


def lost_camera_plan(campaigns: int = LOST_CAMERA_CAMPAIGNS) -> TablePlan:
    """The plan of the table of the lost camera: each campaign with the term and without."""
    return TablePlan(
        table=LOST_CAMERA,
        scenarios=tuple(
            Scenario(
                table=LOST_CAMERA,
                number=number,
                seed=FIRST_LOST_CAMERA_SEED + number,
                truth="camera lost",
                without=NOT_SEEN_TERM,
            )
            for number in range(campaigns)
        ),
    )


def wrong_worlds_plan(campaigns_a_world: int = CAMPAIGNS_A_WORLD) -> TablePlan:
    """The plan of the table of wrong worlds: each seed in every world before the next one."""
    return TablePlan(
        table=WRONG_WORLDS,
        scenarios=tuple(
            Scenario(
                table=WRONG_WORLDS,
                number=len(WORLDS) * campaign + place,
                seed=FIRST_WRONG_WORLD_SEED + campaign,
                truth="prior",
                world=world,
            )
            for campaign in range(campaigns_a_world)
            for place, world in enumerate(WORLDS)
        ),
    )


PLANS: Final = {
    COMPARISONS: comparisons_plan,
    HOLLOW_SOUND: hollow_sound_plan,
    WHAT_IS_SEEN: what_is_seen_plan,
    RANKS: ranks_plan,
    QUICK_ANSWERS: quick_answers_plan,
    LOST_CAMERA: lost_camera_plan,
    ANSWERS: answers_plan,
    ANSWERS_RETRIED: answers_retried_plan,
    ANSWERS_AGAIN: answers_again_plan,
    WRONG_WORLDS: wrong_worlds_plan,
}


def write_plan(plan: TablePlan, folder: Path) -> Path:
    """Write a plan where its results will stand.

    Raises
    ------
    InputError
        If another plan stands there already: its results would be mixed up.
    """
    path = folder / PLAN_FILE
    if path.exists() and read_plan(folder) != plan:
        raise InputError(
            f"{path} holds another plan", hint="Use another folder, or remove it with its results."
        )
    scenarios = ",\n".join(f"  {scenario.model_dump_json()}" for scenario in plan.scenarios)
    text = f'{{"table": {json.dumps(plan.table)}, "scenarios": [\n{scenarios}\n]}}\n'
    write_atomically(path, text)
    return path


def read_plan(folder: Path) -> TablePlan:
    """Read the plan of a results folder.

    Raises
    ------
    InputError
        If there is none, or it is damaged.
    """
    path = folder / PLAN_FILE
    if not path.exists():
        raise InputError(f"no plan in {folder}", hint="Run python -m model.calibration.plan first.")
    return read_whole(path, TablePlan.model_validate_json)
