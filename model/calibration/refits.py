"""Rehearsed campaigns fitted as real ones, where they are first called settled.

``python -m model.calibration.refits --results tests/calibration/results/refits --jobs 2``

A rehearsal weighs draws; a campaign on the water is fitted. Each of these campaigns is rehearsed
from the priors, its outcomes are written down as pulls, and the model is fitted to them: at the
pull where the rehearsal first calls it settled, or at its end. One result file a campaign; run
again it goes on where it stopped.
"""

import argparse
import json
import logging
import os
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Final

from joblib import Parallel, delayed

from model.base.errors import KedgewiseError
from model.calibration.command import at_least_one, end_with
from model.calibration.engine import Engine, as_passed
from model.calibration.files import write_atomically
from model.calibration.refits_table import table_text
from model.calibration.rehearsal_scenarios import (
    ALTERNATED,
    REFITTED,
    Scenario,
    policy_of,
    start_of,
)
from model.calibration.simulated import demo_campaign
from model.planning.outcome_table import SEEN_ON_SIDE, SEEN_UPRIGHT, OutcomeSpace
from model.planning.rehearsal import Settings, rehearse
from model.planning.rehearsed import Rehearsed
from model.planning.settled_rule import FINDINGS
from model.planning.start import Start
from model.posterior.posterior import Posterior
from model.questions.ask import answer
from model.records.campaign import Campaign, Outing
from model.records.pull import Bite, Ending, ModeSeen, Pull

log = logging.getLogger("model.calibration.refits")  # also when run as a command

CAMPAIGNS: Final = 120
"""Of each scenario."""
SEED: Final = 2
PULLS_A_DAY: Final = 12


def main(arguments: Sequence[str] | None = None) -> None:
    """Fit what is missing, then write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--jobs", type=at_least_one, default=os.cpu_count() or 1)
    parser.add_argument(
        "--first", type=at_least_one, default=CAMPAIGNS, help="only the first so many"
    )
    given = parser.parse_args(arguments)
    logging.basicConfig(format="%(message)s", level=logging.INFO)
    given.results.mkdir(parents=True, exist_ok=True)
    missing = [
        (scenario, number)
        for number in range(given.first)
        for scenario in REFITTED
        if not _file(given.results, scenario, number).exists()
    ]
    done = Parallel(n_jobs=given.jobs, return_as="generator_unordered")(
        delayed(_run)(given.results, scenario, number) for scenario, number in missing
    )
    for count, name in enumerate(done, start=1):
        log.info("%s, %d of %d done", name, count, len(missing))
    names = [scenario.name for scenario in REFITTED]
    write_atomically(given.results / "table.md", table_text(given.results, names))


def _file(folder: Path, scenario: Scenario, number: int) -> Path:
    return folder / f"{scenario.name}-{number:03}.json"


def short_hold(campaign: Campaign) -> Campaign:
    """The campaign with no hold at the top beyond one dwell.

    A rehearsal puts together what lets go within the top's dwell and within the final hold after
    it; a log keeps them apart.
    """
    ladders = tuple(
        ladder.model_copy(update={"final_hold_s": ladder.steps[-1].dwell_s})
        for ladder in campaign.ladders
    )
    return campaign.model_copy(update={"ladders": ladders})


@cache
def _rehearsed(scenario: Scenario) -> tuple[Start, Rehearsed]:
    """All campaigns, rehearsed once in each process: the seed makes them the same."""
    start = start_of(scenario, short_hold(demo_campaign()))
    settings = Settings(
        n_campaign=CAMPAIGNS,
        most_pulls=scenario.most_pulls,
        pulls_a_day=PULLS_A_DAY,
        seed=SEED,
    )
    return start, rehearse(start, policy_of(ALTERNATED, start), settings)


@cache
def _engine() -> Engine:
    from model.calibration.fitting import two_chain_engine

    return two_chain_engine()


def _run(folder: Path, scenario: Scenario, number: int) -> str:
    start, found = _rehearsed(scenario)
    pulls_made = int(found.settled_at[number] or found.unknown_at[number]) or scenario.most_pulls
    campaign, pulls = as_pulls(start, found, number, pulls_made)
    result: dict[str, object] = {
        "number": number,
        "pulls": pulls_made,
        "region": int(found.region[number]),
        "rehearsed": int(found.finding[number]),
        "is_not_known": bool(found.unknown_at[number]),
    }
    try:
        posterior = _engine().fit(campaign, pulls, SEED + number)
    except KedgewiseError as error:
        result["refused"] = error.message
    else:
        result |= _looked_at(start, posterior, pulls)
    write_atomically(_file(folder, scenario, number), json.dumps(result) + "\n")
    return f"{scenario.name} {number}"


def _looked_at(start: Start, posterior: Posterior, pulls: Sequence[Pull]) -> dict[str, object]:
    """What the fit says; its draws count, passed or not, as every rehearsal counts."""
    question = start.main.question
    counted = replace(posterior, fit_check=as_passed(posterior.fit_check))
    look = answer(question, counted, pulls, table=()).summary
    # As if the look before had said the same, which is the rehearsal's part of the rule.
    summary = answer(question, counted, pulls, looks=(look,), table=()).summary
    shares = (summary.p_below_band, summary.p_inside_band, summary.p_above_band)
    return {
        "not_passed": "; ".join(posterior.fit_check.reasons),
        "shares": [round(share, 5) for share in shares],
        "finding": FINDINGS[summary.finding],
        "reason": summary.sentence,
    }


def as_pulls(
    start: Start, found: Rehearsed, number: int, count: int
) -> tuple[Campaign, tuple[Pull, ...]]:
    """A rehearsed campaign as the crew would have written it down.

    Returns
    -------
    Campaign, tuple of Pull
        The start's campaign with the days of the rehearsal as its outings.
    """
    first = _last_with_ladder(start.campaign)
    days = -(-count // found.pulls_a_day)
    outings = tuple(
        Outing(name=f"day {day + 1}", ladder=first.ladder, boat=first.boat, gauge=first.gauge)
        for day in range(days)
    )
    campaign = start.campaign.model_copy(update={"outings": outings, "sites": ()})
    pulls = tuple(
        _pull(start, found, number, index, outings[index // found.pulls_a_day].name)
        for index in range(count)
    )
    return campaign, pulls


def _last_with_ladder(campaign: Campaign) -> Outing:
    """The outing whose ladder, boat and gauge the rehearsal reads its loads by."""
    return next(one for one in reversed(campaign.outings) if campaign.ladder_of(one.name))


def _pull(start: Start, found: Rehearsed, number: int, index: int, outing: str) -> Pull:
    candidate = start.candidates[int(found.pulled[number, index])]
    return Pull(
        code=f"{index + 1}",
        outing=outing,
        anchor=candidate.anchor,
        seabed=candidate.seabed,
        levels=dict(candidate.levels),
        scope=candidate.scope,
        bites=(_bite(start.space, int(found.seen[number, index])),),
    )


def _bite(space: OutcomeSpace, outcome: int) -> Bite:
    """What was written down of an outcome; whether it would have set again was not tried."""
    if outcome == 0:
        return Bite(number=1, ending=Ending.NEVER_SET)
    end, seen = divmod(outcome - 1, space.n_seen)
    is_held = end == space.n_end - 1
    loads = space.ladder.loads_kn
    mode = {SEEN_UPRIGHT: ModeSeen.UPRIGHT, SEEN_ON_SIDE: ModeSeen.ON_SIDE}.get(seen)
    return Bite(
        number=1,
        ending=Ending.HELD if is_held else Ending.RELEASED_THEN_STOPPED,
        load_kn=loads[min(end, len(loads) - 1)],
        mode=mode if space.has_camera else None,
        has_camera=space.has_camera,
    )


if __name__ == "__main__":
    # By its own name: what worker processes are handed must not live in __main__.
    from model.calibration.refits import main as run_main

    end_with(run_main)
