"""What a tester's own heading most likely means, by its words and by its cells.

A guess is only ever drafted: whoever drafts shows it, and a person looks at it.
"""

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from model.base.units import LENGTH_UNITS, LOAD_UNITS, MASS_UNITS
from model.ingest import cells
from model.ingest.cells import CellFault, CellReader, Style
from model.ingest.columns import COLUMNS, known_column
from model.ingest.table import Table

MOST_LIKE: Final = 0.8
"""Share of a column's cells that must read as one kind of word for it to be of that kind."""
LEAST_COUNTED: Final = 3
"""How far a count goes at least; 1 and 2 may stand in a column for many a reason."""
NO_COLUMN: Final = "-"
"""Said of a heading that is none of the log's, whatever it looks like."""

_WORDS: Final = {  # the log's column: what testers call it, in some languages
    "pull": "pull no|pull number|pull nr|no|nr|number|nummer|test|test no|test nr|run|trial|id|#"
    "|essai|versuch|versuch nr",
    "outing": "day|session|trip|tag|sortie|uscita|salida",
    "date": "when|on|datum|fecha|data|jour",
    "time": "time of day|clock|start time|hour|uhrzeit|heure|hora",
    "seabed": "bottom|ground|substrate|sea bed|bed|holding ground|grund|boden|fond|fondo|bund",
    "site": "place|location|spot|position|area|ort|platz|lieu|sitio",
    "anchor": "anchor code|anker|ancre|ancla|ancora|ankare",
    "scope": "ratio|scope ratio|rode ratio",
    "rode": "rode length|rode out|chain out|length out|warp|länge|kette|leine|ligne",
    "depth": "water depth|tiefe|wassertiefe|profondeur",
    "bite": "bite no|set no|attempt",
    "start": "how it began|began",
    "ending": "result|outcome|end|ended|how it ended|what happened|ende|ergebnis|fin|resultat",
    "reading": "read by|read as|kind of reading",
    "step": "throttle|throttle mark|mark|notch|stufe|cran",
    "load": "force|pull force|tension|load cell|max load|max force|max pull|peak load|peak force"
    "|peak|thrust|kraft|zug|zugkraft|last|charge|carga|carico",
    "last_held": "last step held|highest held|held load",
    "held_s": "held|hold|hold time|seconds held|hold s",
    "mode": "how it set|lay|lie|attitude|orientation|lage|posture",
    "camera": "filmed|camera used|kamera",
    "buried": "buried rode|rode buried|buried length|buried chain|chain buried",
    "soak_min": "soak|soak time|minutes soaked",
    "wind": "wind speed|vent|viento",
    "current": "tide|stream|strom",
    "sea": "waves|sea state|seegang",
    "video": "clip|film|link",
    "photo": "picture|photos|foto|bild",
    "reason": "why|because|grund dafür",
    "notes": "note|remarks|remark|comment|comments|bemerkung|bemerkungen|notiz|notes de bord",
}
_COLUMNS: Final = {
    word: column for column, words in _WORDS.items() for word in (column, *words.split("|"))
}
HEADING_WORDS: Final = tuple(_COLUMNS)
"""Words that a column may be headed by, units left out."""
_KNOWN: Final = {column.name: column for column in COLUMNS}
_UNITS: Final = {"load": LOAD_UNITS, "length": LENGTH_UNITS, "": {}}
_FORCES: Final = frozenset(LOAD_UNITS) - frozenset(MASS_UNITS)
"""Units that nothing but a load is in: of kg and lb are masses, too."""
_SPLIT: Final = re.compile(r"[\s_,;:./()\[\]-]+")
_NO_UNIT: Final = re.compile(r"[(\[].*[)\]]|,.*")
_COUNT: Final = re.compile(r"([0-9]{1,9})(?:[.,]0+)?")
_NUMBER: Final = re.compile(r"[+-]?[0-9]*[.,]?[0-9]+")
_WORDED: Final[dict[str, CellReader]] = {
    "ending": cells.read_ending,
    "start": cells.read_start,
    "mode": cells.read_mode,
    "reading": cells.read_reading,
}
"""Columns that are known by their cells, whatever their heading."""

WITHOUT_UNIT: Final = "?"
"""Stands in a guess for a unit that the heading does not name, as ``load_?``."""


def guess_headings(table: Table, said: Mapping[str, str] = MappingProxyType({})) -> dict[str, str]:
    """What each of a table's headings means, where the log does not know it as it stands.

    Parameters
    ----------
    said : mapping of str to str
        What a person says of headings of the table: the log's, or ``-`` for none of them.

    Returns
    -------
    dict
        Own heading to the log's, each of those once; a load or length whose unit is not named
        ends in ``_?``.
    """
    guesses = {own: meant for own, meant in said.items() if meant != NO_COLUMN}
    taken = {_column_of(heading) for heading in table.headings}
    taken |= {_column_of(meant.replace(WITHOUT_UNIT, "kn")) for meant in guesses.values()}
    left = []
    for heading in table.headings:
        if not heading or _column_of(heading) or heading in said:
            continue
        column = guess_column(heading) or _by_cells(_filled(table, heading))
        if column and column not in taken:
            taken.add(column)
            guesses[heading] = with_unit(column, heading)
        else:
            left.append(heading)
    return guesses | _by_unit_and_count(table, left, guesses, taken)


def _by_unit_and_count(
    table: Table, left: Sequence[str], guesses: Mapping[str, str], taken: set[str]
) -> dict[str, str]:
    """The load and the pull among headings that no word tells of, where only one may be it."""
    loads = [heading for heading in left if _is_load(table, heading)]
    days = _days(table, guesses)
    counts = [heading for heading in left if heading not in loads and _counts(table, heading, days)]
    found = {}
    if len(loads) == 1 and not {"load", "step"} & taken:
        found[loads[0]] = with_unit("load", loads[0])
    if len(counts) == 1 and "pull" not in taken:
        found[counts[0]] = "pull"
    return found


def guess_column(heading: str) -> str:
    """The log's column that a heading most likely means; empty where nothing is like it."""
    bare = " ".join(_SPLIT.split(_NO_UNIT.sub("", heading))).strip().casefold()
    words = bare.split()
    named = [word for word in words if word not in {**LOAD_UNITS, **LENGTH_UNITS}]
    for text in (bare, " ".join(named)):
        if text in _COLUMNS:
            return _COLUMNS[text]
    return ""


def guess_heading(heading: str) -> str:
    """The log's heading that one most likely means, its unit with it; itself where none is."""
    column = "" if _column_of(heading) else guess_column(heading)
    return with_unit(column, heading) if column else heading


def unit_in(heading: str, kind: str) -> str:
    """The unit that a heading names; empty where it names none.

    Parameters
    ----------
    kind : {"load", "length"}
        Of units: ``m`` is no load.
    """
    words = [word.casefold() for word in _SPLIT.split(heading)]
    return next((word for word in reversed(words) if word in _UNITS[kind]), "")


def names_force(heading: str) -> bool:
    """Whether a heading names a unit of force; the letter N alone is none."""
    return unit_in(heading, "load") in _FORCES and len(heading.strip("()[] ")) > 1


def with_unit(column: str, heading: str) -> str:
    """The log's heading for a column, with the unit that a tester's own names."""
    known = _KNOWN[column]
    if not known.units:
        return column
    return f"{known.stem or column}_{unit_in(heading, known.units) or WITHOUT_UNIT}"


def _column_of(heading: str) -> str:
    """The column that the log knows by this very heading."""
    column, _ = known_column(heading)
    return "" if column is None else column.name


def _by_cells(filled: Sequence[str]) -> str:
    for column, read in _WORDED.items():
        if filled and sum(_reads(read, cell) for cell in filled) >= MOST_LIKE * len(filled):
            return column
    return ""


def _filled(table: Table, heading: str) -> list[str]:
    index = table.headings.index(heading)
    return [row.cells[index].strip() for row in table.rows if row.cells[index].strip()]


def _is_load(table: Table, heading: str) -> bool:
    """Whether a column names a unit of force, and holds numbers."""
    numbers = _filled(table, heading)
    are_most = sum(map(bool, map(_NUMBER.fullmatch, numbers))) >= MOST_LIKE * len(numbers)
    return names_force(heading) and bool(numbers) and are_most


def _counts(table: Table, heading: str, days: Sequence[str]) -> bool:
    """Whether a column counts its rows 1, 2, 3 …: all of them, or those of each day."""
    index = table.headings.index(heading)
    matches = [_COUNT.fullmatch(row.cells[index].strip()) for row in table.rows]
    numbers = [int(match[1]) for match in matches if match]
    if len(numbers) < len(matches) or max(numbers, default=0) < LEAST_COUNTED:
        return False
    by_day: dict[str, list[int]] = {}
    for day, number in zip(days, numbers, strict=True):
        by_day.setdefault(day, []).append(number)
    return _is_count(numbers) or all(map(_is_count, by_day.values()))


def _is_count(numbers: Sequence[int]) -> bool:
    return sorted(numbers) == list(range(1, len(numbers) + 1))


def _days(table: Table, guesses: Mapping[str, str]) -> list[str]:
    """What tells each row's day: its outing, else its date; nothing where there is neither."""
    meant = [_column_of(guesses.get(heading, heading)) for heading in table.headings]
    index = next((meant.index(each) for each in ("outing", "date") if each in meant), None)
    return [row.cells[index].strip() if index is not None else "" for row in table.rows]


def _reads(read: CellReader, cell: str) -> bool:
    try:
        read(cell, Style())
    except CellFault:
        return False
    return True
