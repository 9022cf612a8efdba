"""What the two estimators that look at one anchor alone get to see."""

from collections.abc import Sequence

from model.questions.alone import FirstBite, first_bites
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question, SetUp


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
    found = [
        pull
        for pull in pulls
        if pull.anchor == setup.anchor and {**baselines, **pull.levels} == wanted
    ]
    return first_bites(campaign, found)
