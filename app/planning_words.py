"""What to pull next and what a rehearsal came to, in words for the terminal and for pages."""

from math import exp, inf, isfinite, sqrt
from typing import TYPE_CHECKING, Final

from app.style.numbers import SPACE, counted, effect_figure, load, padded, percent
from app.style.text import short_id
from model.records.answer import Finding
from model.records.campaign import Campaign
from model.records.question import Band
from model.service.next_pulls import checkpoints
from model.service.planning_start import Begun

if TYPE_CHECKING:
    from model.planning.candidates import Candidate
    from model.planning.outlook import Outlook
    from model.planning.ranking import Ranked
    from model.planning.rehearsed import Rehearsed
    from model.records.campaign import Ladder

ENDS_WORDS: Final = {
    Finding.HIGHER: "settled, A higher",
    Finding.NO_PRACTICAL_DIFFERENCE: "settled, no practical difference",
    Finding.LOWER: "settled, A lower",
    Finding.NOT_SETTLED: "not settled",
}
NEVER_PULLED: Final = "*"
"""Marks what was never pulled so far."""
TABLE_WORDS: Final = (
    "Doubt: the share of the questions' doubt that it takes away on average; an hour: the same for "
    "an hour of the boat's time."
)
HOLDS_WORDS: Final = "Holds: ends at the boat's most."
MARK_WORDS: Final = f"{NEVER_PULLED}: never pulled so far."
POLICY_WORDS: Final = (
    "Each in turn: every set-up of the best pairs. Two arms in turn: one pair alone. Half: pulls "
    "after which half are settled. Wrong: of those settled. Hours: mean, until settled or to the "
    "end."
)
NINE_IN_TEN_SD: Final = 1.645
FROM_PRIORS: Final = "before the first pull, from what the model believes beforehand"
A_SHARE: Final = 2
"""Significant digits of a share of the doubt: ranks that lie close must not all read alike."""


def setup_words(campaign: Campaign, one: "Candidate") -> str:
    """As ``S6, leader: wire 2 m, scope 3``; what is at its baseline or usual is left out."""
    return ", ".join([one.anchor, *_rig(campaign, one)])


def _rig(campaign: Campaign, one: "Candidate") -> list[str]:
    baseline = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    levels = [f"{name}: {level}" for name, level in one.levels if level != baseline[name]]
    return levels + ([f"scope {one.scope:g}"] if one.scope != campaign.usual_scope else [])


def pulls_words(campaign: Campaign, one: "Ranked") -> str:
    """A candidate, or what a pair shares and then what it compares; without the seabed.

    As ``S6, chain: 6 mm; leader: wire 2 m against chain only``.
    """
    if one.second is None:
        return setup_words(campaign, one.first)
    shared, ours, theirs = _parted(campaign, one.first, one.second)
    compared = f"{', '.join(ours)} against {', '.join(theirs)}"
    return f"{', '.join(shared)}; {compared}" if shared else compared


def _parted(
    campaign: Campaign, first: "Candidate", second: "Candidate"
) -> tuple[list[str], list[str], list[str]]:
    """What two candidates share, and what each has in the place of what it does not share."""
    shared, ours, theirs = [], [], []
    if first.anchor == second.anchor:
        shared.append(first.anchor)
    else:
        ours.append(first.anchor)
        theirs.append(second.anchor)
    baseline = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    for (name, level), (_, other) in zip(first.levels, second.levels, strict=True):
        if level != other:
            ours.append(f"{name}: {level}")
            theirs.append(other)
        elif level != baseline[name]:
            shared.append(f"{name}: {level}")
    if first.scope != second.scope:
        ours.append(f"scope {first.scope:g}")
        theirs.append(f"{second.scope:g}")
    elif first.scope != campaign.usual_scope:
        shared.append(f"scope {first.scope:g}")
    return shared, ours, theirs


def share_words(share: float) -> str:
    """A share of the doubt, as ``1.7 %``: fine enough to rank by."""
    return "none" if share <= 0 else f"{padded(100 * share, A_SHARE)}{SPACE}%"


def minutes_words(minutes: float) -> str:
    """As ``50 min``."""
    return f"{minutes:.0f}{SPACE}min"


def best_words(campaign: Campaign, one: "Ranked") -> str:
    """What to pull next and why, in one plain sentence and its reason."""
    return f"{next_words(campaign, one)} {why_words(one)}"


def next_words(campaign: Campaign, one: "Ranked") -> str:
    """What to pull next, in one plain sentence."""
    both = "" if one.second is None else ", both on one day"
    return f"Pull next{both}: {pulls_words(campaign, one)}, on {one.first.seabed}."


def why_words(one: "Ranked") -> str:
    """Why that, and what it takes."""
    return f"It {one.reason}. About {minutes_words(one.minutes)}."


def planned_words(begun: Begun) -> str:
    """The one question that a day or a rehearsal is about."""
    asked = begun.start.asked
    alone = "" if len(asked) == 1 else " alone; the ranking of next pulls counts the others"
    return f"{asked[0].question.name}{alone}"


def asked_words(begun: Begun) -> str:
    """The questions that are planned for, their weights where there are several."""
    asked = begun.start.asked
    if len(asked) == 1:
        return asked[0].question.name
    return ", ".join(f"{one.question.name} ({percent(one.weight)})" for one in asked)


def basis_words(begun: Begun) -> str:
    """From what it was worked out."""
    found = begun.posterior
    if found is None:
        return FROM_PRIORS
    pulls = counted(found.pulls, "pull")
    return f"{found.state}, {pulls}, fit check {found.fit_check} ({short_id(found.id)})"


def ladder_words(ladder: "Ladder", campaign: Campaign) -> str:
    """As ``workboat, 0.5 to 6.2 kN in 10 steps``."""
    loads = ladder.loads_kn
    ends = f"{load(loads[0], campaign)} to {load(loads[-1], campaign)}"
    return f"{ladder.name}, {ends} in {counted(len(loads), 'step')}"


def camera_words(begun: Begun) -> str:
    """Whether the mode is taken to be seen."""
    has_camera = begun.start.space.has_camera
    return "how it sets will be seen" if has_camera else "how it sets will not be seen"


def rehearsed_head(found: "Rehearsed") -> str:
    """How often a rehearsal by one policy settled the question, in one sentence."""
    chance = percent(found.settled_by(found.most_pulls))
    return (
        f"Chosen {found.policy}, {found.question.name} is settled within {found.most_pulls} pulls "
        f"in {chance} of {counted(found.n_campaign, 'rehearsed campaign')}, {luck_words(found)}."
    )


def luck_words(found: "Rehearsed") -> str:
    """How far the share of settled campaigns may be off by luck, nine times in ten."""
    share = found.settled_by(found.most_pulls)
    share = min(max(share, 1 / found.n_campaign), 1 - 1 / found.n_campaign)
    points = 100 * NINE_IN_TEN_SD * sqrt(share * (1 - share) / found.n_campaign)
    return f"give or take {counted(max(1, round(points)), 'point')} by luck"


def settled_words(found: "Rehearsed") -> str:
    """The chance to settle by so many pulls, as ``24 % by 6 pulls, 41 % by 12 (a day)``."""
    parts = []
    for pulls in checkpoints(found.most_pulls, found.pulls_a_day):
        day = " (a day)" if pulls == found.pulls_a_day else ""
        parts.append(f"{percent(found.settled_by(pulls))} by {counted(pulls, 'pull')}{day}")
    return ", ".join(parts)


def ends_words(found: "Rehearsed") -> str:
    """The chance of each end state after all pulls; those that never came about left out."""
    ends = found.ends
    told = [f"{percent(ends[end])} {words}" for end, words in ENDS_WORDS.items() if ends[end] > 0]
    return "; ".join(told)


def wrong_words(found: "Rehearsed") -> str:
    """How many findings were wrong, as ``3 of 71 settled``."""
    settled = int(found.is_settled.sum())
    if not settled:
        return "none was settled"
    return f"{int(found.is_wrong.sum())} of the {settled} settled"


def unknown_words(found: "Rehearsed") -> str:
    """How many campaigns ended as not known, and on how few draws; empty where none did."""
    unknown = int(n_unknown(found))
    if not unknown:
        return ""
    return (
        f"{unknown} of {counted(found.n_campaign, 'campaign')} ended as not known: their draws "
        f"would not move any more (fewest effective draws {lowest_worth(found):.0f}). "
        "They count as not settled"
    )


def n_unknown(found: "Rehearsed") -> int:
    """Campaigns whose draws told no more before they were settled."""
    return int((found.unknown_at > 0).sum())


def lowest_worth(found: "Rehearsed") -> float:
    """Least effective draws behind any look of any campaign; infinite where none was taken."""
    return float(found.lowest_worth.min()) if found.lowest_worth.size else inf


def stop_words(found: "Outlook") -> str:
    """Why more of the same cannot help, and what would; empty where it can."""
    if not found.why_stop:
        return ""
    if found.would_more_help:
        return f"So few pulls will hardly settle it: {found.why_stop}. {found.what_would}"
    return f"More of the same will hardly help: {found.why_stop}. {found.what_would}"


def pulls_to_settle_words(found: "Rehearsed") -> str:
    """Pulls after which half of all campaigns are settled; a dash where they never are."""
    pulls = found.pulls_to_settle()
    return f"{pulls:.0f}" if isfinite(pulls) else "–"


def wrong_share_words(found: "Rehearsed") -> str:
    """As ``3 of 71``: how many of those settled were so wrongly; a dash where none was settled."""
    settled = int(found.is_settled.sum())
    return f"{int(found.is_wrong.sum())} of {settled}" if settled else "–"


def hours_of(found: "Rehearsed") -> float:
    """Mean hours on the water until settled, or to the end."""
    return float(found.minutes.mean()) / 60


def true_effect(value: float, band: Band) -> float:
    """A true effect on the scale that a band's ends are written in: a ratio, or a difference."""
    return exp(value) if band.kind == "ratio" else value


def true_effect_words(value: float, band: Band) -> str:
    """As ``1.15 ×`` or ``+10 points``."""
    return effect_figure(true_effect(value, band), band.kind)
