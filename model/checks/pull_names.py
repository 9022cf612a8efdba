"""A pull in a few words, by which a tester knows it again."""

from model.base.units import LOAD_SYMBOLS, from_kn
from model.records.campaign import Campaign
from model.records.pull import Bite, Ending, ModeSeen, Pull

MODE_WORDS = {ModeSeen.UPRIGHT: "upright", ModeSeen.ON_SIDE: "on its side"}
"""What the camera showed."""


def pull_name(campaign: Campaign, pull: Pull) -> str:
    """As ``pull day 4/9 (S6 on firm sand, let go at 1.0 kN, upright)``; of a slip each bite.

    Without the seabed where there is only one.
    """
    told = "; then ".join(_bite_words(campaign, bite) for bite in pull.bites)
    where = f" on {pull.seabed}" if len(campaign.seabeds) > 1 else ""
    return f"pull {pull.id} ({pull.anchor}{where}, {told})"


def _bite_words(campaign: Campaign, bite: Bite) -> str:
    mode = f", {MODE_WORDS[bite.mode]}" if bite.mode in MODE_WORDS else ""
    return f"{_ending_words(campaign, bite)}{mode}"


def _ending_words(campaign: Campaign, bite: Bite) -> str:
    if bite.ending is Ending.NEVER_SET:
        return "never set"
    load = "" if bite.load_kn is None else f" {load_words(campaign, bite.load_kn)}"
    if bite.ending is Ending.HELD:
        return f"held{load}"
    if bite.ending is Ending.STOPPED:
        return f"stopped after{load}" if load else "stopped"
    return f"let go at{load}"


def load_words(campaign: Campaign, load_kn: float) -> str:
    """A load in the campaign's own unit, as ``2.6 kN``."""
    symbol = LOAD_SYMBOLS[campaign.load_unit.strip().lower()]
    return f"{from_kn(load_kn, campaign.load_unit):.3g} {symbol}"
