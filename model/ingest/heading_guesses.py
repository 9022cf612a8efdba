"""What a tester's own heading most likely means, by its words and by its cells.

A guess is only ever drafted: whoever drafts shows it, and a person looks at it.
"""

import re
from collections.abc import Sequence
from typing import Final

from model.base.units import LENGTH_UNITS, LOAD_UNITS
from model.ingest import cells
from model.ingest.cells import CellFault, CellReader, Style
from model.ingest.columns import COLUMNS, known_column
from model.ingest.table import Table

MOST_LIKE: Final = 0.8
"""Share of a column's cells that must read as one kind of word for it to be of that kind."""

_WORDS: Final = {  # the log's column: what testers call it, in some languages
    "pull": "pull no|pull number|pull nr|no|nr|number|nummer|test|test no|run|trial|id|#|essai",
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
    "load": "force|pull force|tension|load cell|max load|peak load|peak|thrust|kraft|zug|zugkraft"
    "|last|charge|carga|carico",
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
_SPLIT: Final = re.compile(r"[\s_,;:./()\[\]-]+")
_NO_UNIT: Final = re.compile(r"[(\[].*[)\]]|,.*")
_WORDED: Final[dict[str, CellReader]] = {
    "ending": cells.read_ending,
    "start": cells.read_start,
    "mode": cells.read_mode,
    "reading": cells.read_reading,
}
"""Columns that are known by their cells, whatever their heading."""

WITHOUT_UNIT: Final = "?"
"""Stands in a guess for a unit that the heading does not name, as ``load_?``."""


def guess_headings(table: Table) -> dict[str, str]:
    """What each of a table's headings means, where the log does not know it as it stands.

    Returns
    -------
    dict
        Own heading to the log's, each of those once; a load or length whose unit is not named
        ends in ``_?``.
    """
    taken = {_column_of(heading) for heading in table.headings} - {""}
    guesses: dict[str, str] = {}
    for index, heading in enumerate(table.headings):
        if not heading or _column_of(heading):
            continue
        column = guess_column(heading) or _by_cells([row.cells[index] for row in table.rows])
        if column and column not in taken:
            taken.add(column)
            guesses[heading] = _with_unit(column, heading)
    return guesses


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
    return _with_unit(column, heading) if column else heading


def unit_in(heading: str, kind: str) -> str:
    """The unit that a heading names; empty where it names none.

    Parameters
    ----------
    kind : {"load", "length"}
        Of units: ``m`` is no load.
    """
    words = [word.casefold() for word in _SPLIT.split(heading)]
    return next((word for word in reversed(words) if word in _UNITS[kind]), "")


def _with_unit(column: str, heading: str) -> str:
    known = _KNOWN[column]
    if not known.units:
        return column
    return f"{known.stem or column}_{unit_in(heading, known.units) or WITHOUT_UNIT}"


def _column_of(heading: str) -> str:
    """The column that the log knows by this very heading."""
    column, _ = known_column(heading)
    return "" if column is None else column.name


def _by_cells(written: Sequence[str]) -> str:
    filled = [cell.strip() for cell in written if cell.strip()]
    for column, read in _WORDED.items():
        if filled and sum(_reads(read, cell) for cell in filled) >= MOST_LIKE * len(filled):
            return column
    return ""


def _reads(read: CellReader, cell: str) -> bool:
    try:
        read(cell, Style())
    except CellFault:
        return False
    return True
