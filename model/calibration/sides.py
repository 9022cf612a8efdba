"""What the two estimators that look at one anchor alone get to see."""

from collections.abc import Sequence
from dataclasses import dataclass

from model.records.campaign import Campaign, Ladder
from model.records.pull import Bite, Ending, Pull
from model.records.question import Question, SetUp


@dataclass(frozen=True, kw_only=True)
class FirstBite:
    """The first bite of a pull that set, with the ladder it climbed."""

    bite: Bite
    ladder: Ladder

    @property
    def is_held(self) -> bool:
        """Whether it held to the end."""
        return self.bite.ending is Ending.HELD


def sides(
    campaign: Campaign, question: Question, pulls: Sequence[Pull]
) -> tuple[tuple[FirstBite, ...], tuple[FirstBite, ...]]:
    """First bites of a question's two set-ups, pulls that set and are not void.

    The load at the first release is what is asked; a re-set does not count.
    """
    return _side(campaign, question.a, pulls), _side(campaign, question.b, pulls)


def _side(campaign: Campaign, setup: SetUp, pulls: Sequence[Pull]) -> tuple[FirstBite, ...]:
    baselines = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    wanted = {**baselines, **setup.levels}
    found = []
    for pull in pulls:
        ladder = campaign.ladder_of(pull.outing)
        is_same = pull.anchor == setup.anchor and {**baselines, **pull.levels} == wanted
        if is_same and pull.has_set and not pull.is_void and ladder is not None:
            found.append(FirstBite(bite=pull.bites[0], ladder=ladder))
    return tuple(found)
