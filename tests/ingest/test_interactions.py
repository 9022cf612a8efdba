"""Interactions of a campaign file: read, and refused by line where they name no pair."""

import pytest

from model.base.errors import FaultyFile
from model.ingest.campaign_file import read_campaign_text

LEAST = """
name = "Least"
[[boats]]
name = "workboat"
top_thrust = 6.2
[ladders.plain]
dwell_s = 15
final_hold_s = 60
steps = [1, 2, 3]
[[outings]]
name = "day 1"
[[seabeds]]
name = "firm sand"
[[anchors]]
code = "S6"
mass_kg = 6
"""
TREATMENTS = """
[treatments.leader]
baseline = "chain only"
levels = ["chain only", "wire 2 m"]
[treatments.chain]
baseline = "8 mm"
levels = ["8 mm", "6 mm"]
"""


def test_interactions_are_read() -> None:
    text = f'interactions = [["leader", "chain"]]{LEAST}{TREATMENTS}'
    campaign = read_campaign_text(text, "campaign.toml").campaign
    assert campaign.interactions == (("leader", "chain"),)


@pytest.mark.parametrize(
    ("written", "found"),
    [
        ('[["leader", "chian"]]', "no treatment 'chian'"),
        ('["leader", "chain"]', "is no list"),
        ('[["leader"]]', "is no pair"),
        ('"leader"', "is no list"),
    ],
)
def test_a_faulty_interaction_is_named_with_its_line(written: str, found: str) -> None:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(f"interactions = {written}{LEAST}{TREATMENTS}", "campaign.toml")
    assert [fault.line for fault in caught.value.faults] == [1]
    assert found in caught.value.faults[0].found
