"""How set-ups set and will pull, and how each bite did, as tables for a terminal of 80 columns."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from app.answer_text import INVENTED
from app.cautions import SHORT
from app.style.numbers import SPACE, estimate, interval_name, percent, percent_if_known
from app.style.text import on_one_line
from model.questions.bite_modes import BiteModes
from model.questions.mode_sentences import (
    TOGETHER,
    WAYS_TO_END,
    climb_words,
    courses_words,
    has_untried_together,
    name_words,
    rig_words,
    variation_words,
)
from model.questions.setting_modes import SetUpModes
from model.records.campaign import Campaign
from model.records.pull import ModeSeen
from model.service.modes import Modes

SETUP_COLUMNS: Final = {
    "Set-up": 24,
    "Upright": 17,
    "Sets": 7,
    "Re-sets": 7,
    "Pulls": 5,
    "Seen": 7,
}
NEXT_COLUMNS: Final = {"Next pull": 30, "Slips": 9, "Holds": 9, "Lets go": 9, "Never sets": 10}
COURSE_COLUMNS: Final = {"Set-up": 24, "Likeliest courses of its next pull": 50}
BITE_COLUMNS: Final = {"Pull": 15, "Set-up": 18, "Seen": 7, "Upright": 7, "Part by part, %": 24}
"""Headings and widths, characters; with the space between them they fill 80 columns."""

INDENT: Final = (0, 0, 0, 2)
"""Of a set-up below its anchor and seabed, every line of it: top, right, bottom, left."""

SEEN_WORDS: Final = {ModeSeen.UPRIGHT: "upright", ModeSeen.ON_SIDE: "on side", None: "–"}
"""Short, for a narrow column."""

MANY: Final = 3
"""From so many times seen in one mode alone on, it is tempting to say that it never varies."""

NOTHING: Final = "No pull of such a set-up yet. With --untried it is predicted from the others."


def modes_view(found: Modes) -> RenderableType:
    """All tables, what their figures mean, cautions."""
    notes = [SHORT, *([INVENTED] if found.campaign.is_invented else [])]
    parts: list[RenderableType] = []
    if found.set_ups:
        table = _by_anchor(SETUP_COLUMNS, found.set_ups, found.campaign, _set_up_cells)
        parts += [table, *_set_up_notes(found), *_next_pulls(found)]
    if found.bites:
        parts += [_bite_table(found), *_bite_notes(found)]
    return Group(*(parts or [_text(NOTHING)]), _text(" ".join(notes), "dim"))


def _text(content: str, style: str = "") -> Text:
    return Text(on_one_line(content), style=style)


def _table(columns: Mapping[str, int], *, left: int = 1) -> Table:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, left), expand=False)
    for heading, width in columns.items():
        table.add_column(heading, overflow="fold", max_width=width)
    return table


def _by_anchor(
    columns: Mapping[str, int],
    set_ups: Sequence[SetUpModes],
    campaign: Campaign,
    cells: Callable[[SetUpModes, Campaign], tuple[str, ...]],
) -> Table:
    """A row a set-up, what is changed and then its cells, below its anchor and seabed."""
    table, before = _table(columns), ""
    for one in set_ups:
        where = f"{one.place.anchor} on {one.place.seabed}"
        if where != before:
            table.add_row(_text(where, "bold"), *[""] * (len(columns) - 1))
        before = where
        rig = Padding(_text(rig_words(campaign, one.place)), INDENT)
        table.add_row(rig, *(_text(cell) for cell in cells(one, campaign)))
    return table


def _set_up_cells(one: SetUpModes, campaign: Campaign) -> tuple[str, ...]:
    pulls = one.pulls
    return (
        estimate(one.p_upright, campaign),
        percent(one.p_sets.median),
        percent_if_known(None if one.whole is None else one.whole.p_resets),
        "none" if one.is_predicted else str(pulls.count),
        "–" if one.is_predicted else f"{pulls.upright}/{pulls.on_side}/{pulls.not_seen}",
    )


def _set_up_notes(found: Modes) -> Iterator[Text]:
    interval = interval_name(found.set_ups[0].p_upright.interval)
    yield _text(
        f"Upright: of pulls that set; in brackets the {interval}. Re-sets: of pulls that let go, "
        "those that dig in again and stand the thrust that is on. Seen: first bites seen upright / "
        "on its side / not seen; the other pulls never set. A set-up seen one way only may yet set "
        "the other way: its interval says how often."
    )
    if any(one.is_predicted for one in found.set_ups):
        yield _text("Pulls none: never pulled, predicted from other set-ups.")
    if has_untried_together(found.set_ups, found.campaign):
        yield _text(TOGETHER)
    for one in found.set_ups:
        if one.pulls.only_mode is not None and max(one.pulls.upright, one.pulls.on_side) >= MANY:
            where = f"{one.place.anchor} on {one.place.seabed}"
            yield _text(
                f"{where}, {rig_words(found.campaign, one.place)}: {variation_words(one)}", "dim"
            )


def _next_pulls(found: Modes) -> Iterator[RenderableType]:
    """How the next pull of each set-up would go; nothing where no ladder is known."""
    told = [one.whole for one in found.set_ups if one.whole is not None]
    if not told:
        return
    yield _by_anchor(NEXT_COLUMNS, found.set_ups, found.campaign, _next_pull_cells)
    yield _text(f"One pull {climb_words(told[0])}, on any day. {WAYS_TO_END}")
    yield _by_anchor(COURSE_COLUMNS, found.set_ups, found.campaign, _course_cells)


def _next_pull_cells(one: SetUpModes, _campaign: Campaign) -> tuple[str, ...]:
    whole = one.whole
    if whole is None:
        return ()
    chances = (whole.p_slips, whole.p_holds, whole.p_gone, whole.p_never_sets)
    return tuple(_short_percent(chance) for chance in chances)


def _course_cells(one: SetUpModes, campaign: Campaign) -> tuple[str, ...]:
    return () if one.whole is None else (courses_words(one.whole, campaign),)


def _bite_table(found: Modes) -> Table:
    table = _table(BITE_COLUMNS, left=0)
    for one in found.bites:
        *cells, parts = _bite_cells(one, found.campaign)
        table.add_row(*(_text(cell) for cell in cells), Text(parts))
    return table


def _bite_cells(one: BiteModes, campaign: Campaign) -> tuple[str, ...]:
    rig = rig_words(campaign, one.place)
    return (
        name_words(one),
        f"{one.place.anchor}, {one.place.seabed}" + ("" if rig == "baseline" else f", {rig}"),
        SEEN_WORDS[one.seen],
        _short_percent(one.p_upright) + (" !" if one.is_at_odds else ""),
        _parted(one),
    )


def _parted(one: BiteModes) -> str:
    """Each part with its chance, two on a line."""
    parts = [f"{step.part} {_figure(step.p_upright)}" for step in one.steps]
    pairs = [" → ".join(parts[start : start + 2]) for start in range(0, len(parts), 2)]
    return "\n→ ".join(pairs)


def _figure(probability: float) -> str:
    return _short_percent(probability).removesuffix(f"{SPACE}%")


def _short_percent(probability: float) -> str:
    return percent(probability).replace("under ", "<").replace("over ", ">")


def _bite_notes(found: Modes) -> Iterator[Text]:
    yield _text(
        "Chance that the bite was upright: what its set-up and day say (all pulls taught that, "
        "this one among them), then with its load, and with whatever else was recorded of it."
    )
    if any(one.is_at_odds for one in found.bites):
        yield _text("!: noted one way, likelier the other: look at the log or the film again.")
