"""The campaign, the truth and the pulls of one scenario whose answers are compared."""

from pathlib import Path

import model
from model.base.errors import InputError
from model.calibration.comparison_campaign import (
    comparison_campaign,
    scenario_pulls,
    scenario_world,
)
from model.calibration.scenario import COMPARISONS, HOLLOW_SOUND, WRONG_WORLDS, Scenario
from model.calibration.wrong_world_campaign import (
    wrong_world,
    wrong_world_campaign,
    wrong_world_pulls,
)
from model.ingest.campaign_file import read_campaign
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.simulate.hollow_sound import hollow_sound_world, simulate_hollow_sound
from model.simulate.world import World


def simulate(scenario: Scenario) -> tuple[Campaign, World, tuple[Pull, ...]]:
    """Make one scenario of the comparisons, the demo or the wrong worlds; the same every time.

    Raises
    ------
    InputError
        If it is of another table.
    """
    if scenario.table == HOLLOW_SOUND:
        campaign = demo_campaign()
        world = hollow_sound_world(campaign)
        return campaign, world, simulate_hollow_sound(campaign, scenario.seed)
    if scenario.table == WRONG_WORLDS:
        campaign = wrong_world_campaign()
        world = wrong_world(scenario, campaign)
        return campaign, world, wrong_world_pulls(scenario, world)
    if scenario.table != COMPARISONS:
        raise InputError(
            f"no comparisons are made in the table {scenario.table}",
            hint=f"Only in {COMPARISONS}, {HOLLOW_SOUND} and {WRONG_WORLDS}.",
        )
    campaign = comparison_campaign()
    world = scenario_world(scenario, campaign)
    return campaign, world, scenario_pulls(scenario, world)


def demo_campaign() -> Campaign:
    """The demo's campaign, from its own file beside the packages.

    Raises
    ------
    InputError
        If the program runs without its data folder.
    """
    folder = Path(model.__file__).parents[1] / "data" / "hollow_sound"
    return read_campaign(folder / "campaign.toml")
