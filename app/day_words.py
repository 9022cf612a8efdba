"""A day's plan in words, for the terminal, pages and print alike."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from app.planning_words import minutes_words, setup_words
from app.style.numbers import SPACE, counted, load_symbol, percent, significant
from model.base.units import from_kn
from model.records.campaign import Campaign
from model.service.day_plans import Day

if TYPE_CHECKING:
    from model.planning.candidates import Candidate
    from model.planning.day_plan import DayPlan
    from model.records.campaign import Ladder

MAKE_READY: Final = "make ready"
"""Before the first pull of a day, when nothing is on deck yet."""
NO_CHANGE: Final = "nothing"
PATCH_WORDS: Final = "Each pull goes into a fresh patch of bottom: no two in one furrow."
COINS_WORDS: Final = "Coins drew which of a pair goes first, so that no arm is always the earlier."


@dataclass(frozen=True, kw_only=True)
class DayRow:
    """One pull of a plan in words.

    Parameters
    ----------
    begins : str
        From the plan's start, hours and minutes, its change-over included.
    changed : tuple of str
        What is changed on deck, or moved to, against the pull before; empty where nothing is.
    """

    block: int
    number: int
    begins: str
    minutes: str
    setup: str
    changed: tuple[str, ...]
    seabed: str
    patch: int

    @property
    def change_words(self) -> str:
        """What is changed, on one line."""
        return ", ".join(self.changed) or NO_CHANGE


def day_rows(day: Day) -> Iterator[DayRow]:
    """Each pull of a day in its order."""
    campaign, before, number = day.begun.start.campaign, day.begun.last, 0
    baseline = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    for block, planned in enumerate(day.plan.blocks, start=1):
        for pull in planned.pulls:
            number += 1
            yield DayRow(
                block=block,
                number=number,
                begins=clock_words(pull.begins_min),
                minutes=minutes_words(pull.minutes),
                setup=setup_words(campaign, pull.candidate),
                changed=_changes(before, pull.candidate, baseline),
                seabed=pull.candidate.seabed,
                patch=pull.patch,
            )
            before = pull.candidate


def _changes(
    before: "Candidate | None", after: "Candidate", baseline: dict[str, str]
) -> tuple[str, ...]:
    """What a crew that reads nothing else must change; on another anchor all that it wears."""
    if before is None:
        return (MAKE_READY,)
    is_other = before.anchor != after.anchor
    found = [after.anchor] if is_other else []
    found += [
        f"{name}: {level}"
        for (name, level), (_, other) in zip(after.levels, before.levels, strict=True)
        if level != other or (is_other and level != baseline[name])
    ]
    found += [f"scope {after.scope:g}"] if before.scope != after.scope else []
    found += [f"move to {after.seabed}"] if before.seabed != after.seabed else []
    return tuple(found)


def clock_words(minutes: float) -> str:
    """Time since the start of a plan, as ``1:25``."""
    whole = round(minutes)
    return f"{whole // 60}:{whole % 60:02d}"


def day_head(day: Day, hours: float) -> str:
    """The day in one sentence: how much fits in, and what it may settle."""
    plan, found = day.plan, day.rehearsed
    if found is None:
        pair = day.begun.start.campaign.minutes
        least = minutes_words(2 * pair.pull)
        return f"Not one pair of pulls fits into {hours:g} h: a pair takes {least} and its changes."
    pulls, blocks = counted(len(plan.pulls), "pull"), counted(len(plan.blocks), "block")
    chance = percent(found.settled_by(found.most_pulls))
    return (
        f"{pulls} in {blocks}, {clock_words(plan.minutes)} h of {clock_words(60 * hours)} h: "
        f"the chance that they settle {day.begun.start.main.question.name} is {chance}."
    )


def stagger_words(plan: "DayPlan", campaign: Campaign) -> str:
    """That a staggered ladder would tell more, where it is worth the trouble; else empty."""
    from model.planning.day_plan import STAGGER_GAIN
    from model.planning.ladders import staggered

    if plan.stagger_gain < STAGGER_GAIN:
        return ""
    return (
        f"A ladder staggered by half a step would tell {100 * plan.stagger_gain:.0f}{SPACE}% more: "
        f"{steps_words(staggered(plan.ladder), campaign)}. Add it to the campaign file first."
    )


def steps_words(ladder: "Ladder", campaign: Campaign) -> str:
    """Every step of a ladder in the campaign's own unit."""
    steps = ", ".join(significant(from_kn(one, campaign.load_unit)) for one in ladder.loads_kn)
    return f"{steps}{SPACE}{load_symbol(campaign)}"


def seed_words(plan: "DayPlan", option: str = "") -> str:
    """How the same order is had again."""
    return (
        f"Seed {plan.seed}, kept for this day; `kedgewise day --seed {plan.seed}{option}` with the "
        "same options gives the same order again."
    )
