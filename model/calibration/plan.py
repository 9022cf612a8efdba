"""Write the plan of a table.

``python -m model.calibration.plan --table comparisons --results DIR``

The plan is committed before its first campaign is run, so that nobody can
choose seeds by what came out.
"""

import argparse
import logging
from collections.abc import Sequence
from pathlib import Path

from model.calibration.command import end_with
from model.calibration.scenario import PLANS, write_plan

log = logging.getLogger("model.calibration.plan")  # also when run as a command


def main(arguments: Sequence[str] | None = None) -> None:
    """Write the plan into the results folder."""
    parser = argparse.ArgumentParser(description="Write the plan of a calibration table.")
    parser.add_argument("--table", choices=sorted(PLANS), required=True)
    parser.add_argument("--results", type=Path, required=True)
    given = parser.parse_args(arguments)
    logging.basicConfig(format="%(message)s")
    logging.getLogger("model").setLevel(logging.INFO)
    plan = PLANS[given.table]()
    log.info("%d campaigns planned in %s", len(plan.scenarios), write_plan(plan, given.results))


if __name__ == "__main__":
    end_with(main)
