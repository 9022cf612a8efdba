"""How a set-up sets, and how one bite did, in plain words."""

from collections.abc import Sequence
from typing import Final

from model.base.percents import percent_words
from model.base.units import LOAD_SYMBOLS, from_kn
from model.outcomes.likelihood import BURIED, CAMERA, SIGNS
from model.outcomes.memberships import LOAD, SET_UP
from model.questions.bite_modes import BiteModes
from model.questions.setting_modes import Place, SetUpModes
from model.questions.whole_pulls import Course, WholePulls
from model.records.campaign import Campaign
from model.records.pull import ModeSeen

MODE_WORDS = {ModeSeen.UPRIGHT: "upright", ModeSeen.ON_SIDE: "on its side"}
PART_WORDS = {
    SET_UP: "from its set-up",
    LOAD: "with its load",
    CAMERA: "with the camera",
    BURIED: "with its buried rode",
    SIGNS: "with its signs",
}


WAYS_TO_END: Final = (
    "Slips: lets go and sets again at least once, however it ends. "
    "Holds, lets go and never sets leave nothing out."
)
"""What the columns of a table of next pulls mean."""

TOGETHER: Final = (
    "Changes made together count as the sum of what each does alone; as more or less than that "
    "only where the campaign names the two as an interaction."
)
"""What is foretold of a combination that nobody pulled."""


def has_untried_together(set_ups: Sequence[SetUpModes], campaign: Campaign) -> bool:
    """Whether a combination of two changes or more is among those never pulled."""
    baselines = [(treatment.name, treatment.baseline) for treatment in campaign.treatments]
    return any(
        one.is_predicted
        and sum(one.place.levels[name] != baseline for name, baseline in baselines) > 1
        for one in set_ups
    )


def rig_words(campaign: Campaign, place: Place) -> str:
    """What of a set-up is not at its baseline, as ``leader: wire 2 m``; else ``baseline``."""
    changed = [
        f"{treatment.name}: {place.levels[treatment.name]}"
        for treatment in campaign.treatments
        if place.levels[treatment.name] != treatment.baseline
    ]
    return ", ".join(changed) or "baseline"


def variation_words(modes: SetUpModes) -> str:
    """What of a set-up's two modes is not known from its own pulls; empty where both were seen.

    A mode never seen is not a mode that cannot be: the words say how often it
    may come all the same.
    """
    pulls = modes.pulls
    if modes.is_predicted:
        return "Never pulled: predicted from other set-ups."
    if pulls.never_set == pulls.count:
        return "It has not set yet: what it does then is predicted from other set-ups."
    if pulls.upright + pulls.on_side == 0:
        return "How it sets is told from its loads and from other set-ups alone: it was never seen."
    if pulls.only_mode is None:
        return ""
    return _one_mode_words(modes, pulls.only_mode)


def _one_mode_words(modes: SetUpModes, seen: ModeSeen) -> str:
    found = modes.p_upright.interval
    if seen is ModeSeen.UPRIGHT:
        other, low, high = MODE_WORDS[ModeSeen.ON_SIDE], 1 - found.upper, 1 - found.lower
    else:
        other, low, high = MODE_WORDS[ModeSeen.UPRIGHT], found.lower, found.upper
    return (
        f"Never seen {other}, yet that stays possible: {_range_words(low, high)} of pulls that set "
        f"({100 * found.prob:.0f} % interval); what it would hold then rests on other "
        "set-ups."
    )


def _range_words(low: float, high: float) -> str:
    ends = [percent_words(end) for end in (low, high)]
    if ends[0] == ends[1]:
        return ends[0]
    return f"{ends[0]} to {ends[1]}" if low < 0.01 else f"{ends[0].removesuffix(' %')} to {ends[1]}"


def name_words(bite: BiteModes) -> str:
    """Which pull, and which of its bites where it has more than one."""
    return bite.pull if bite.bites == 1 else f"{bite.pull}, bite {bite.bite}"


def steps_words(bite: BiteModes) -> str:
    """What moved a bite's chance: ``55 % from its set-up, 88 % with its load``."""
    return ", ".join(
        f"{percent_words(step.p_upright)} {_part_words(bite, step.part)}" for step in bite.steps
    )


def _part_words(bite: BiteModes, part: str) -> str:
    if part != CAMERA:
        return PART_WORDS[part]
    what = "nothing seen" if bite.seen is None else MODE_WORDS[bite.seen]
    # A mode may be noted by eye: where the log names no camera, none is claimed.
    return f"{PART_WORDS[CAMERA] if bite.has_camera else 'with what was seen'} ({what})"


def bite_words(bite: BiteModes) -> str:
    """One bite in a line, as ``Pull day 3/7: 92 % upright: 55 % from its set-up, …``."""
    chance = percent_words(bite.p_upright)
    return f"Pull {name_words(bite)}: {chance} upright: {steps_words(bite)}"


def climb_words(whole: WholePulls) -> str:
    """Which ladder the next pull would climb, and who reads its steps."""
    return f"up the ladder {whole.ladder} by {whole.boat}, loads as this boat reads them"


def courses_words(whole: WholePulls, campaign: Campaign) -> str:
    """The likeliest courses of the next pull, each with its chance."""
    return "; ".join(
        f"{course_words(course, campaign)} {percent_words(course.chance)}"
        for course in whole.courses
    )


def course_words(course: Course, campaign: Campaign) -> str:
    """As ``lets go at 2.6 kN, digs in again and holds to the end``."""
    if not course.steps_kn:
        return "holds to the end" if course.is_held else "never sets"
    unit = LOAD_SYMBOLS[campaign.load_unit]
    own = (float(f"{from_kn(step, campaign.load_unit):.3g}") for step in course.steps_kn)
    lets_go = ", then at ".join(f"{load:g} {unit}" for load in own)
    ending = ", digs in again and holds to the end" if course.is_held else ""
    return f"lets go at {lets_go}{ending}"
