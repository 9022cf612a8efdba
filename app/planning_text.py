"""What to pull next, a day and a rehearsal as text for a terminal of 80 columns."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from app.answer_text import INVENTED, Row, grid, text_of
from app.cautions import SHORT
from app.day_words import (
    COINS_WORDS,
    PATCH_WORDS,
    DayRow,
    day_head,
    day_rows,
    seed_words,
    stagger_words,
    steps_words,
)
from app.planning_words import (
    HOLDS_WORDS,
    MARK_WORDS,
    NEVER_PULLED,
    POLICY_WORDS,
    TABLE_WORDS,
    asked_words,
    basis_words,
    best_words,
    camera_words,
    ends_words,
    hours_of,
    ladder_words,
    planned_words,
    pulls_to_settle_words,
    pulls_words,
    rehearsed_head,
    settled_words,
    share_words,
    stop_words,
    true_effect_words,
    unknown_words,
    wrong_share_words,
    wrong_words,
)
from app.style.numbers import counted, percent
from model.records.answer import Finding
from model.records.campaign import Campaign
from model.service.day_plans import Day
from model.service.next_pulls import NextPulls, checkpoints
from model.service.planning_start import Begun
from model.service.rehearsals import Rehearsal

if TYPE_CHECKING:
    from model.planning.outlook import Outlook
    from model.planning.ranking import Ranked
    from model.planning.rehearsed import Rehearsed

PULL_COLUMNS: Final = {"On": 12, "Doubt": 7, "An hour": 7, "Holds": 8, "Minutes": 7}
PULLS_WIDTH: Final = 28
DAY_COLUMNS: Final = {"No.": 3, "At": 5, "Pull": 26, "Change": 22, "Patch": 14}
POLICY_WIDTH: Final = 20
EFFECT_WIDTH: Final = 10
"""Widths in characters; with the space between them they fill 80 columns."""

EFFECT_WORDS: Final = (
    "Chosen by what pulls tell. The true effect is of A against B; wrong is a finding for a "
    "region in which the truth does not lie: at an end of the band that is a coin's toss. True "
    "effects outside the 95 % interval of what is known so far are left out."
)


def next_view(found: NextPulls, most: int) -> RenderableType:
    """What to pull next: a sentence, the best pairs and singles, and where they may lead."""
    campaign, ranking = found.begun.start.campaign, found.ranking
    best = (ranking.pairs or ranking.singles)[0]
    parts: list[RenderableType] = [text_of(best_words(campaign, best), "bold")]
    parts += [] if found.outlook is None else _stop(found.outlook)
    pairs, singles = ranking.pairs[:most], ranking.singles[:most]
    if pairs:
        parts.append(ranked_table("Two on one day", pairs, campaign))
    parts += [
        ranked_table("One pull", singles, campaign),
        text_of(f"{TABLE_WORDS} {HOLDS_WORDS}", "dim"),
    ]
    if any(one.is_untried for one in (*pairs, *singles)):
        parts.append(text_of(MARK_WORDS, "dim"))
    rows = [*_asked_rows(found.begun)]
    if found.outlook is not None:
        rows += _outlook_rows(found.outlook, len(found.begun.start.asked))
    return Group(*parts, Text(), grid([*rows, *_basis_rows(found.begun)]))


def short_view(begun: Begun, pairs: "Sequence[Ranked]") -> RenderableType:
    """The best pairs alone, for the end of the demo."""
    head = f"What to pull next for {asked_words(begun)}:"
    return Group(text_of(head, "bold"), ranked_table("Two on one day", pairs, begun.start.campaign))


def _stop(found: "Outlook") -> list[RenderableType]:
    words = stop_words(found)
    return [text_of(words)] if words else []


def ranked_table(heading: str, ranked: "Sequence[Ranked]", campaign: Campaign) -> Table:
    """Candidates or pairs in their order, with what they tell and cost."""
    table = _table({heading: PULLS_WIDTH, **PULL_COLUMNS})
    for one in ranked:
        mark = f" {NEVER_PULLED}" if one.is_untried else ""
        table.add_row(
            text_of(f"{pulls_words(campaign, one)}{mark}"),
            text_of(one.first.seabed),
            share_words(one.share),
            share_words(60 * one.share / one.minutes),
            _short(percent(one.p_held)),
            f"{one.minutes:.0f}",
        )
    return table


def _table(columns: Mapping[str, int]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), expand=False)
    for heading, width in columns.items():
        table.add_column(heading, overflow="fold", max_width=width)
    return table


def _short(words: str) -> str:
    return words.replace("under ", "<").replace("over ", ">")


def _asked_rows(begun: Begun) -> Iterator[Row]:
    yield "Question" if len(begun.start.asked) == 1 else "Questions", asked_words(begun)
    yield _assumed_row(begun)


def _outlook_rows(found: "Outlook", n_asked: int) -> Iterator[Row]:
    if n_asked > 1:
        yield "Looks at", f"{found.rehearsed.question.name} alone; the ranking counts all of them"
    yield "Settled", f"{settled_words(found.rehearsed)}, from here, by what pulls tell"
    yield from _rehearsed_rows(found.rehearsed)


def _rehearsed_rows(found: "Rehearsed") -> Iterator[Row]:
    yield "It may end", ends_words(found)
    yield "Wrong", f"{wrong_words(found)}, of {counted(found.n_campaign, 'rehearsed campaign')}"
    if unknown := unknown_words(found):
        yield "Not known", unknown


def _planned_rows(begun: Begun) -> Iterator[Row]:
    yield "Question", planned_words(begun)
    yield _assumed_row(begun)


def _assumed_row(begun: Begun) -> Row:
    ladder = ladder_words(begun.start.space.ladder, begun.start.campaign)
    return "Assumed", f"ladder {ladder}; {camera_words(begun)}"


def _basis_rows(begun: Begun) -> Iterator[Row]:
    yield "From", basis_words(begun)
    if begun.waiting:
        yield "Waiting", begun.waiting
    yield "Caution", SHORT
    if begun.start.campaign.is_invented:
        yield "Data", INVENTED


def day_view(day: Day, hours: float, option: str = "") -> RenderableType:
    """A day in its order, block by block; what is changed against the pull before stands out."""
    plan, campaign = day.plan, day.begun.start.campaign
    parts: list[RenderableType] = [text_of(day_head(day, hours), "bold")]
    rows = [*_planned_rows(day.begun)]
    if day.rehearsed is not None:
        parts += [_day_table(list(day_rows(day))), text_of(f"{COINS_WORDS} {PATCH_WORDS}", "dim")]
        rows.append(("Steps", steps_words(plan.ladder, campaign)))
        if stagger := stagger_words(plan, campaign):
            rows.append(("Ladder", stagger))
        rows += _rehearsed_rows(day.rehearsed)
        rows.append(("Order", seed_words(plan, option)))
    return Group(*parts, Text(), grid([*rows, *_basis_rows(day.begun)]))


def _day_table(rows: Sequence[DayRow]) -> Table:
    table = _table(DAY_COLUMNS)
    for place, row in enumerate(rows):
        ends_block = place + 1 < len(rows) and rows[place + 1].block != row.block
        table.add_row(
            str(row.number),
            row.begins,
            text_of(row.setup),
            text_of(row.change_words, "bold" if row.changed else "dim"),
            text_of(f"{row.seabed} {row.patch}"),
            end_section=ends_block,
        )
    return table


def rehearsal_view(found: Rehearsal) -> RenderableType:
    """Policies side by side, then true effects one by one."""
    first = found.by_policy[0]
    parts: list[RenderableType] = [
        text_of(rehearsed_head(first), "bold"),
        *_stop(found.outlook),
        _policy_table(found.by_policy),
        text_of(POLICY_WORDS, "dim"),
    ]
    if found.by_effect:
        parts += [_effect_table(found), text_of(EFFECT_WORDS, "dim")]
    rows = [*_planned_rows(found.begun), ("It may end", ends_words(first))]
    if unknown := unknown_words(first):
        rows.append(("Not known", unknown))
    return Group(*parts, Text(), grid([*rows, *_basis_rows(found.begun)]))


def _policy_table(by_policy: "Sequence[Rehearsed]") -> Table:
    first = by_policy[0]
    looks = checkpoints(first.most_pulls, first.pulls_a_day)
    headings = {f"By {pulls}": 8 for pulls in looks}
    table = _table({"Choosing": POLICY_WIDTH, **headings, "Half": 5, "Wrong": 9, "Hours": 5})
    for one in by_policy:
        table.add_row(
            one.policy,
            *(_short(percent(one.settled_by(pulls))) for pulls in looks),
            pulls_to_settle_words(one),
            wrong_share_words(one),
            f"{hours_of(one):.1f}",
        )
    return table


def _effect_table(found: Rehearsal) -> Table:
    columns = {"True effect": EFFECT_WIDTH, "Higher": 9, "Lower": 9, "No difference": 13}
    table = _table({**columns, "Not settled": 11, "Half": 5, "Wrong": 9})
    for effect, one in found.by_effect:
        ends = one.ends
        ways = (Finding.HIGHER, Finding.LOWER, Finding.NO_PRACTICAL_DIFFERENCE, Finding.NOT_SETTLED)
        table.add_row(
            true_effect_words(effect, one.question.band),
            *(_short(percent(ends[way])) for way in ways),
            pulls_to_settle_words(one),
            wrong_share_words(one),
        )
    return table
