"""Rehearsed campaigns fitted as real ones, where they are first called settled.

``python -m model.calibration.refits --results tests/calibration/results/refits --jobs 2``

A rehearsal weighs draws; a campaign on the water is fitted. Each of these campaigns is rehearsed
from the priors, its outcomes are written down as pulls, and the model is fitted to them: at the
pull where the rehearsal first calls it settled, or at its end. One result file a campaign; run
again it goes on where it stopped.
"""

import argparse
import json
import os
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from joblib import Parallel, delayed

from model.base.errors import KedgewiseError
from model.calibration.engine import Engine
from model.calibration.files import write_atomically
from model.calibration.rehearsal_scenarios import ALTERNATED, SCENARIOS, policy_of, start_of
from model.planning.outcome_table import SEEN_ON_SIDE, SEEN_UPRIGHT, OutcomeSpace
from model.planning.rehearsal import Settings, rehearse
from model.planning.rehearsed import Rehearsed
from model.planning.settled_rule import FINDINGS, NONE
from model.planning.start import Start
from model.questions.ask import answer
from model.records.campaign import Campaign, Outing
from model.records.pull import Bite, Ending, ModeSeen, Pull

CAMPAIGNS: Final = 200
SEED: Final = 2
PULLS_A_DAY: Final = 12
SCENARIO: Final = next(one for one in SCENARIOS if one.name == "leader-one-anchor-priors")


def main(arguments: Sequence[str] | None = None) -> None:
    """Fit what is missing, then write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--first", type=int, default=CAMPAIGNS, help="only the first so many")
    given = parser.parse_args(arguments)
    given.results.mkdir(parents=True, exist_ok=True)
    missing = [n for n in range(given.first) if not _file(given.results, n).exists()]
    Parallel(n_jobs=given.jobs)(delayed(_run)(given.results, number) for number in missing)
    write_atomically(given.results / "table.md", table_text(given.results))


def _file(folder: Path, number: int) -> Path:
    return folder / f"{number:03}.json"


@cache
def _rehearsed() -> tuple[Start, Rehearsed]:
    """All campaigns, rehearsed once in each process: the seed makes them the same."""
    start = start_of(SCENARIO)
    settings = Settings(
        n_campaign=CAMPAIGNS,
        most_pulls=SCENARIO.most_pulls,
        pulls_a_day=PULLS_A_DAY,
        seed=SEED,
    )
    return start, rehearse(start, policy_of(ALTERNATED, start), settings)


@cache
def _engine() -> Engine:
    from model.calibration.fitting import fitting_engine

    return fitting_engine()


def _run(folder: Path, number: int) -> None:
    start, found = _rehearsed()
    pulls_made = int(found.settled_at[number]) or SCENARIO.most_pulls
    campaign, pulls = as_pulls(start, found, number, pulls_made)
    head: dict[str, object] = {
        "number": number,
        "pulls": pulls_made,
        "region": int(found.region[number]),
        "rehearsed": int(found.finding[number]),
        "not_known": bool(found.unknown_at[number]),
    }
    engine, question = _engine(), start.main.question
    try:
        posterior = engine.fit(campaign, pulls, SEED + number)
        look = answer(question, posterior, pulls, table=()).summary
        # As if the look before had said the same, which is the rehearsal's part of the rule.
        summary = answer(question, posterior, pulls, looks=(look,), table=()).summary
    except KedgewiseError as error:
        head["refused"] = error.message
    else:
        shares = (summary.p_below_band, summary.p_inside_band, summary.p_above_band)
        head["shares"] = [round(share, 5) for share in shares]
        head["finding"] = FINDINGS[summary.finding]
        head["reason"] = summary.sentence
    write_atomically(_file(folder, number), json.dumps(head) + "\n")


def as_pulls(
    start: Start, found: Rehearsed, number: int, count: int
) -> tuple[Campaign, tuple[Pull, ...]]:
    """A rehearsed campaign as the crew would have written it down.

    Returns
    -------
    Campaign, tuple of Pull
        The start's campaign with the days of the rehearsal as its outings.
    """
    first = start.campaign.outings[0]
    days = -(-count // found.pulls_a_day)
    outings = tuple(
        Outing(name=f"day {day + 1}", ladder=start.space.ladder.name, boat=first.boat)
        for day in range(days)
    )
    campaign = start.campaign.model_copy(update={"outings": outings, "sites": ()})
    pulls = tuple(
        _pull(start, found, number, index, outings[index // found.pulls_a_day].name)
        for index in range(count)
    )
    return campaign, pulls


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


def table_text(folder: Path) -> str:
    """What refits say beside what the rehearsals said."""
    results = [json.loads(path.read_text("utf-8")) for path in sorted(folder.glob("[0-9]*.json"))]
    fitted = [one for one in results if "shares" in one]
    settled = [one for one in fitted if one["rehearsed"] != NONE]
    others = [one for one in fitted if one["rehearsed"] == NONE]
    head = (
        f"{len(results)} rehearsals; {len(results) - len(fitted)} of their fits were refused.\n\n"
        "| rehearsed as | campaigns | settled by the refit too | settled otherwise | not settled | "
        "wrong as rehearsed | wrong as refitted | mean chance of the finding, refitted |\n"
        "|---|---:|---:|---:|---:|---:|---:|---:|\n"
    )
    return head + _row("settled", settled) + _row("not settled", others)


def _row(name: str, results: Sequence[dict[str, Any]]) -> str:
    rehearsed = np.array([one["rehearsed"] for one in results], dtype=int)
    refitted = np.array([one["finding"] for one in results], dtype=int)
    region = np.array([one["region"] for one in results], dtype=int)
    same = int(np.sum((refitted == rehearsed) & (rehearsed != NONE)))
    otherwise = int(np.sum((refitted != NONE) & (refitted != rehearsed)))
    not_settled = int(np.sum(refitted == NONE))
    wrong = int(np.sum((rehearsed != NONE) & (rehearsed != region)))
    wrong_refitted = int(np.sum((refitted != NONE) & (refitted != region)))
    shares = [
        np.array(one["shares"])[int(rehearsed[index])]
        for index, one in enumerate(results)
        if rehearsed[index] != NONE
    ]
    mean = f"{np.mean(shares):.3f}" if shares else "–"
    return (
        f"| {name} | {len(results)} | {same} | {otherwise} | {not_settled} | {wrong} | "
        f"{wrong_refitted} | {mean} |\n"
    )


if __name__ == "__main__":
    main()
