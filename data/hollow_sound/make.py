"""Make the invented demo data beside this script: pulls.csv and truth.json.

    uv run python data/hollow_sound/make.py [--seed 1] [--into FOLDER]

Seed 1 made the published files. The campaign file is written by hand.
"""

import argparse
import json
import logging
from pathlib import Path

from model.ingest.campaign_file import read_campaign
from model.ingest.log_writer import write_log
from model.simulate.hollow_sound import SEED, hollow_sound_world, simulate_hollow_sound
from model.simulate.true_answer import true_effect
from model.simulate.world import world_to_json

HERE = Path(__file__).parent
NOTE = "Invented: the truth from which the demo's pulls were simulated. Nothing was measured."
EFFECT_DIGITS = 3
"""The true best load is simulated, and right to about 0.001."""

log = logging.getLogger(__name__)


def main() -> None:
    """Write both files and say where."""
    parser = argparse.ArgumentParser(description="Make the invented demo data.")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--into", type=Path, default=HERE)
    arguments = parser.parse_args()
    logging.basicConfig(level=logging.INFO, format="%(message)s")
    make(arguments.seed, arguments.into)


def make(seed: int, folder: Path) -> None:
    """Write pulls.csv and truth.json into a folder."""
    campaign = read_campaign(HERE / "campaign.toml")
    pulls = simulate_hollow_sound(campaign, seed)
    write_log(pulls, campaign, folder / "pulls.csv")
    world = hollow_sound_world(campaign)
    truth = {
        "note": NOTE,
        "seed": seed,
        "effects": {
            question.name: round(true_effect(world, question), EFFECT_DIGITS)
            for question in campaign.questions
        },
        **world_to_json(world),
    }
    text = json.dumps(truth, indent=1, ensure_ascii=False) + "\n"
    (folder / "truth.json").write_text(text, encoding="utf-8")
    log.info("%d invented pulls, seed %d, in %s", len(pulls), seed, folder)


if __name__ == "__main__":
    main()
