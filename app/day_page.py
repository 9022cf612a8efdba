"""A day's plan as a page to print and take along: one file that asks for nothing else."""

import re
from collections.abc import Iterator
from html import escape
from typing import Final

from app.answer_text import INVENTED
from app.cautions import ON_THE_WATER, SHORT
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
from app.planning_words import basis_words, camera_words, ends_words, ladder_words, planned_words
from app.style import palette
from app.style.text import on_one_line
from model.service.day_plans import Day

HEADINGS: Final = ("No.", "At", "Pull", "Change", "Bottom, patch", "Ended, at", "How it set")
"""The last two are left empty, for the pencil."""
NOT_BOUND: Final = "The times are a plan, not a duty: wind, tide, traffic and the crew come first."
_BOLD: Final = re.compile(r"\*\*(.+?)\*\*")

STYLE: Final = f"""
:root {{ color-scheme: light; }}
body {{ font: 15px/1.4 {palette.FONT}; color: {palette.INK}; background: {palette.PAPER};
  max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem; }}
h1 {{ font-size: 1.5rem; margin: 0 0 .25rem; }}
h2 {{ font-size: 1.1rem; margin: 1.25rem 0 .25rem; }}
.wide {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ border: 1px solid {palette.FAINT_INK}; padding: .35rem .4rem; text-align: left;
  vertical-align: top; overflow-wrap: break-word; }}
th {{ background: {palette.PANEL}; font-weight: 600; }}
td:nth-child(n+6) {{ min-width: 5rem; }}
tbody {{ border-top: 3px solid {palette.INK}; }}
tr {{ break-inside: avoid; }}
thead {{ display: table-header-group; }}
.changed {{ font-weight: 700; }}
.same {{ color: {palette.FAINT_INK}; }}
@media screen and (max-width: 40rem) {{ :is(th, td):nth-child(n+6) {{ display: none; }} }}
dt {{ font-weight: 600; }}
dd {{ margin: 0 0 .35rem 0; overflow-wrap: anywhere; }}
@media print {{
  @page {{ margin: 12mm; }}
  body {{ background: none; margin: 0; padding: 0; max-width: none; font-size: 11pt; }}
  .wide {{ overflow: visible; }}
  tr {{ height: 12mm; }}
  ul {{ break-inside: avoid; }}
}}
"""


def day_page(day: Day, hours: float, option: str = "") -> str:
    """The whole page as HTML; every name in it stands as text.

    Parameters
    ----------
    option : str
        What a next command must say to mean this store.
    """
    campaign = day.begun.start.campaign
    title = _text(f"Day plan: {campaign.name}")
    rows = list(day_rows(day))
    blocks = "".join(_block(rows, number) for number in sorted({row.block for row in rows}))
    cautions = "".join(f"<li>{_marked(one)}</li>" for one in ON_THE_WATER)
    invented = f"<p><strong>{_text(INVENTED)}</strong></p>" if campaign.is_invented else ""
    notes = "".join(
        f"<dt>{_text(name)}</dt><dd>{_text(words)}</dd>" for name, words in _notes(day, option)
    )
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{STYLE}</style>
</head>
<body>
<h1>{title}</h1>
<p>{_text(day_head(day, hours))} {_text(NOT_BOUND)}</p>
{invented}
<h2>On the water</h2>
<ul>{cautions}</ul>
<h2>Pulls</h2>
<p>{_text(COINS_WORDS)} {_text(PATCH_WORDS)} Bold: to change before the pull.</p>
<div class="wide">
<table>
<thead><tr>{"".join(f"<th>{_text(heading)}</th>" for heading in HEADINGS)}</tr></thead>
{blocks}
</table>
</div>
<h2>Behind it</h2>
<dl>{notes}</dl>
<p>{_text(SHORT)}</p>
</body>
</html>
"""


def _block(rows: list[DayRow], number: int) -> str:
    lines = "\n".join(_line(row) for row in rows if row.block == number)
    return f"<tbody>\n{lines}\n</tbody>\n"


def _line(row: DayRow) -> str:
    kind = "changed" if row.changed else "same"
    return (
        f"<tr><td>{row.number}</td><td>{_text(row.begins)}</td><td>{_text(row.setup)}</td>"
        f'<td class="{kind}">{_text(row.change_words)}</td>'
        f"<td>{_text(row.seabed)}, {row.patch}</td><td></td><td></td></tr>"
    )


def _notes(day: Day, option: str) -> Iterator[tuple[str, str]]:
    begun, plan = day.begun, day.plan
    campaign = begun.start.campaign
    yield "Planned for", planned_words(begun)
    yield "Ladder", f"{ladder_words(plan.ladder, campaign)}: {steps_words(plan.ladder, campaign)}"
    if stagger := stagger_words(plan, campaign):
        yield "Another ladder", stagger
    yield "Assumed", camera_words(begun)
    if day.rehearsed is not None:
        yield "The day may end", ends_words(day.rehearsed)
    yield "Order", seed_words(plan, option).replace("`", "")
    yield "Worked out from", basis_words(begun)
    if begun.waiting:
        yield "Waiting", begun.waiting


def _text(content: str) -> str:
    return escape(on_one_line(content))


def _marked(caution: str) -> str:
    return _BOLD.sub(r"<strong>\1</strong>", _text(" ".join(caution.split())))
