"""Put the finished tables into the page of long runs, between their marks.

``python -m model.calibration.results_page --commit 0000000``

A table with campaigns still missing is left out, and what stands between its
marks stays: a figure on the page is of a whole run or is not there.
"""

import argparse
import logging
import os
import platform
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from model.base.errors import InputError
from model.calibration.command import end_with
from model.calibration.files import write_atomically
from model.calibration.result import Result, read_results_as
from model.calibration.scenario import (
    ANSWERS,
    ANSWERS_AGAIN,
    ANSWERS_RETRIED,
    COMPARISONS,
    FIRST_AGAIN_SEED,
    FIRST_ANSWERED_SEED,
    FIRST_LOST_CAMERA_SEED,
    FIRST_QUICK_SEED,
    FIRST_RANKED_SEED,
    FIRST_SEED,
    FIRST_SEEN_SEED,
    FIRST_WRONG_WORLD_SEED,
    HOLLOW_SOUND,
    LOST_CAMERA,
    PLAN_FILE,
    QUICK_ANSWERS,
    RANKS,
    WHAT_IS_SEEN,
    WORLDS,
    WRONG_WORLDS,
    read_plan,
)
from model.calibration.tables import TABLES, write_table

log = logging.getLogger("model.calibration.results_page")  # also when run as a command

PAGE: Final = Path("tests/RESULTS.md")
RESULTS: Final = Path("tests/calibration/results")


@dataclass(frozen=True, kw_only=True)
class Heading:
    """What a table's section says above its figures."""

    title: str
    seeds: str
    about: str


HEADINGS: Final = {
    COMPARISONS: Heading(
        title="Comparisons of three pulls a side",
        seeds=f"campaign k has seed {FIRST_SEED} + k",
        about=(
            "Simulated campaigns of 36 pulls with eight comparisons each: even campaigns have a "
            "truth from the priors, odd ones a fixed truth off them. Two estimators that look at "
            "one anchor alone stand beside this model."
        ),
    ),
    HOLLOW_SOUND: Heading(
        title="The demo's questions over seeds",
        seeds="seeds 1, 2, 3, ... in order",
        about=(
            "The invented demo's truth and plans, its pulls simulated anew for each seed, "
            "and every standing question asked of each fit."
        ),
    ),
    WHAT_IS_SEEN: Heading(
        title="What is seen",
        seeds=f"campaign k has seed {FIRST_SEEN_SEED} + k",
        about=(
            "500 simulated campaigns of 18 pulls with truths from the priors: three anchors bare "
            "and changed, a camera at half of the pulls, buried rode and two signs, a tenth of all "
            "that not written down. A hundred of them are fitted once more without burial and "
            "signs. In 60 others there is a camera at every pull, lost in 0.78 of what is upright "
            "and 0.22 of what lies on its side, and neither burial nor signs; they are fitted once "
            "more as if no camera had been used where nothing was seen. Only the 500 count for the "
            "shares."
        ),
    ),
    RANKS: Heading(
        title="Ranks of truths among their draws",
        seeds=f"campaign k has seed {FIRST_RANKED_SEED} + k",
        about=(
            "Simulation-based calibration on other campaigns of 18 pulls, made as those of what is "
            "seen, all with truths from the priors: where the truth stands among the draws of one "
            "attempt, passed or not, for the six effects and every free parameter."
        ),
    ),
    QUICK_ANSWERS: Heading(
        title="Quick answers beside full fits",
        seeds=f"campaign k has seed {FIRST_QUICK_SEED} + k",
        about=(
            "Simulated campaigns of the comparisons (36 pulls, or 24 and a few on a third day). "
            "All but the last 1, 3 or 5 pulls are fitted, those weighed in, and every question is "
            "asked; then all pulls are fitted with another seed, and asked of again."
        ),
    ),
    LOST_CAMERA: Heading(
        title="An anchor that loses the camera when it digs in",
        seeds=f"campaign k has seed {FIRST_LOST_CAMERA_SEED} + k",
        about=(
            "Simulated campaigns of 96 pulls of three anchors at truths of one stated rule, a "
            "camera at every pull, lost in 0.73 of what is upright and in 0.27 of what lies on its "
            "side. K1 and K2 let go within the ladder, so that their loads tell the mode; K3 "
            "outholds the boat either way, and only the camera could tell. Each campaign is fitted "
            "once as written, and once as if no camera had been used where nothing was seen."
        ),
    ),
    ANSWERS: Heading(
        title="Answers over the whole way",
        seeds=f"campaign k has seed {FIRST_ANSWERED_SEED} + k",
        about=(
            "Simulation-based calibration. A truth from the priors, twelve pulls (three anchors "
            "bare and changed on two days, a camera at half of them, a tape and two signs, a tenth "
            "of all that not written down), a log file, its import into a store, one attempt of "
            "the fit (two chains; its draws count whether or not they passed their check), fifteen "
            "questions by every measure, and the truth among the draws of every answer and every "
            "parameter. A finding is what the rule says as if the look before had said the same; "
            "one anchor alone has two pulls a side, which are too few for one."
        ),
    ),
    ANSWERS_RETRIED: Heading(
        title="Answers over the whole way, as a user gets them",
        seeds=f"campaign k has seed {FIRST_ANSWERED_SEED} + k",
        about=(
            "The first of the same campaigns, fitted as a user's are: four chains, again where the "
            "check is not passed, and refused where it fails to the end."
        ),
    ),
    ANSWERS_AGAIN: Heading(
        title="Answers over the whole way, around the demo",
        seeds=f"campaign k has seed {FIRST_AGAIN_SEED} + k",
        about=(
            "The same where the data that matter are: a truth is one draw of the fit of the "
            "demo's pulls, twelve more pulls are made at that truth on two more days, and the "
            "standing questions are asked of the fit of all of them."
        ),
    ),
    WRONG_WORLDS: Heading(
        title="Worlds that are not the model's",
        seeds=f"campaign k has seed {FIRST_WRONG_WORLD_SEED} + k // {len(WORLDS)}",
        about=(
            "Simulated campaigns of 18 pulls (two anchors, bare and with each of two treatments, "
            "on three outings, a camera at seven tenths of the pulls), each truth from the priors "
            "drawn in every world on the same seeds. Heavier tails: Student's t with 3 degrees of "
            "freedom and the same quartiles in the place of the normal scatter of log load. A "
            "third mode: a fifth of the bites, whatever is pulled, hold one more gap below those "
            "on their side, and look upright or on their side at even odds. A drift in the day: "
            "loads rise by 10 % from a day's first pull to its last, with the order of arms turned "
            "about from day to day, or bare first and the second treatment last on all. A "
            "mis-stated ladder: of every four steps two were pulled 8 % harder and two 8 % less "
            "hard than stated. One mode in five misread: a seen mode is called the other with a "
            "chance of 0.2 (0.05 under the priors). Half the treatments exactly null: one of the "
            "two changes nothing at all. Nine questions each (one anchor against the other, and "
            "each treatment in general; typical load, chance to set upright, chance to hold 2 kN) "
            "are judged by that world's own truth, worked out and not drawn, for the middle of the "
            "day; upright is what truly is, and not what looks so. One attempt of two chains is "
            "fitted, and its draws count whether or not they pass their check."
        ),
    ),
}


def main(arguments: Sequence[str] | None = None) -> None:
    """Write every finished table's section."""
    parser = argparse.ArgumentParser(description="Write the finished tables into the page.")
    parser.add_argument("--commit", required=True, help="of the code that ran the tables")
    parser.add_argument("--table", choices=sorted(HEADINGS), help="only this one")
    parser.add_argument("--page", type=Path, default=PAGE)
    parser.add_argument("--results", type=Path, default=RESULTS)
    given = parser.parse_args(arguments)
    logging.basicConfig(format="%(message)s")
    logging.getLogger("model").setLevel(logging.INFO)
    text = given.page.read_text(encoding="utf-8")
    for table in [given.table] if given.table else sorted(HEADINGS):
        section = section_text(table, given.results / table, given.commit)
        text = text if section is None else with_section(text, table, section)
    write_atomically(given.page, text)


def section_text(table: str, folder: Path, commit: str) -> str | None:
    """The section of one table; None while campaigns of its plan are missing.

    Parameters
    ----------
    commit : str
        Of the code that made the results; they do not know it themselves.

    Raises
    ------
    InputError
        If the folder holds another table.
    """
    plan = read_plan(folder) if (folder / PLAN_FILE).exists() else None
    if plan is not None and plan.table != table:
        raise InputError(
            f"{folder} holds the table {plan.table}, not {table}",
            hint="Its figures would stand under another heading: name the folder of that table.",
        )
    planned = 0 if plan is None else len(plan.scenarios)
    results = read_results_as(TABLES[table].kind, folder) if planned else ()
    if not planned or len(results) < planned:
        log.info("%s: %d of %d campaigns, left out", table, len(results), planned)
        return None
    heading = HEADINGS[table]
    given = f"--table {table} --results {(RESULTS / table).as_posix()}"
    figures = write_table(folder).read_text(encoding="utf-8")
    return (
        f"## {heading.title}\n\n"
        f"    uv run python -m model.calibration.plan {given}\n"
        f"    uv run python -m model.calibration.run {given}\n\n"
        f"{_circumstances(heading, results, commit)}\n\n{heading.about}\n\n{figures}"
    )


def _circumstances(heading: Heading, results: Sequence[Result], commit: str) -> str:
    version = next((result.model_version for result in results if result.model_version), "none")
    hours = sum(result.fit_seconds for result in results) / 3600
    python = ".".join(platform.python_version_tuple()[:2])
    return (
        f"{heading.seeds} (fixed before the first run) · model version {version} · commit "
        f"{commit} · {os.cpu_count()} cores, {platform.system()}, Python {python} · "
        f"{hours:.1f} h of fits"
    )


def with_section(page: str, table: str, section: str) -> str:
    """The page with a section between its marks; at the end where it has none yet.

    Raises
    ------
    InputError
        If only one of the two marks is there, or one more than once.
    """
    begin, end = f"<!-- table {table} -->", f"<!-- end of table {table} -->"
    block = f"{begin}\n{section.rstrip()}\n{end}"
    if (page.count(begin), page.count(end)) == (0, 0):
        return f"{page.rstrip()}\n\n{block}\n"
    found = re.findall(f"{re.escape(begin)}.*?{re.escape(end)}", page, re.DOTALL)
    if (page.count(begin), page.count(end), len(found)) != (1, 1, 1):
        raise InputError(
            f"the marks of the table {table} are not a pair",
            hint=f"Keep one {begin} and one {end}.",
        )
    return page.replace(found[0], block)


if __name__ == "__main__":
    end_with(main)
