"""The columns of a pull log: what each is called, and how its cells are read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from types import MappingProxyType
from typing import Final, Literal

from model.base.errors import Fault
from model.base.units import LENGTH_UNITS, LOAD_UNITS
from model.ingest import cells
from model.ingest.cells import CellReader
from model.ingest.known_names import plain, shown
from model.ingest.table import Table, column_key
from model.records.treatment import Treatment


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column the log knows.

    Parameters
    ----------
    name : str
        Field of the row that its cells fill.
    read : CellReader
        Text of a cell that is not empty, to its value.
    is_verbatim : bool
        Whether outer spaces belong to the cell.
    stem : str
        Heading before the unit, where the column has one.
    units : {"", "load", "length"}
        What its heading's unit measures.
    """

    name: str
    read: CellReader
    is_verbatim: bool = False
    stem: str = ""
    units: Literal["", "load", "length"] = ""

    @property
    def headings(self) -> dict[str, str]:
        """Every heading it may have, each with the unit that it names."""
        known = {"": {"": ""}, "load": LOAD_UNITS, "length": LENGTH_UNITS}[self.units]
        return {f"{self.stem or self.name}_{unit}" if unit else self.name: unit for unit in known}


COLUMNS: Final = (
    Column(name="pull", read=cells.read_words),
    Column(name="outing", read=cells.read_words),
    Column(name="date", read=cells.read_date),
    Column(name="time", read=cells.read_time),
    Column(name="seabed", read=cells.read_words),
    Column(name="site", read=cells.read_words),
    Column(name="anchor", read=cells.read_words),
    Column(name="scope", read=cells.read_scope),
    Column(name="rode", read=cells.read_length, units="length"),
    Column(name="depth", read=cells.read_length, units="length"),
    Column(name="bite", read=cells.whole_number(1, 50)),
    Column(name="start", read=cells.read_start),
    Column(name="ending", read=cells.read_ending),
    Column(name="reading", read=cells.read_reading),
    Column(name="step", read=cells.read_words),
    Column(name="load", read=cells.read_load, units="load"),
    Column(name="last_held", read=cells.read_load, units="load"),
    Column(name="held_s", read=cells.plain_number(0, 864_000)),
    Column(name="start_load", read=cells.read_load, stem="start", units="load"),
    Column(name="resolution", read=cells.read_load, units="load"),
    Column(name="mode", read=cells.read_mode),
    Column(name="camera", read=cells.read_yes_no),
    Column(name="buried", read=cells.read_buried, units="length"),
    Column(name="signs", read=cells.read_signs),
    Column(name="soak_min", read=cells.plain_number(0, 1e6)),
    Column(name="wind", read=cells.read_words, is_verbatim=True),
    Column(name="current", read=cells.read_words, is_verbatim=True),
    Column(name="sea", read=cells.read_words, is_verbatim=True),
    Column(name="video", read=cells.read_words, is_verbatim=True),
    Column(name="photo", read=cells.read_words, is_verbatim=True),
    Column(name="reason", read=cells.read_words, is_verbatim=True),
    Column(name="notes", read=cells.read_words, is_verbatim=True),
)
"""Every column; one with units has a heading for each, as ``load_kn`` and ``load_lbf``."""

NEEDED: Final = ("pull", "anchor", "seabed", "ending")
"""Columns without which no row says anything; besides these a load or a step."""

_BY_HEADING: Final = {
    heading: (column, unit) for column in COLUMNS for heading, unit in column.headings.items()
}
_STEMS: Final = {column.stem or column.name: column for column in COLUMNS if column.units}
LOG_HEADINGS: Final = tuple(_BY_HEADING)
"""Headings as the log has them, in its order."""
KNOWN_HEADINGS: Final = frozenset(_BY_HEADING) | frozenset(_STEMS)
"""Headings that no treatment may have."""


MEASURED: Final = frozenset({"scope", "step", "held_s", "soak_min"})
"""Columns of numbers that have no unit in their heading."""
LEAST_TELLING: Final = 4
"""Characters of a level by which a column is known as a treatment's."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """What stands in one column of a file: a known column, a treatment or something else."""

    heading: str
    column: Column | None = None
    unit: str = ""
    treatment: str = ""


def place_columns(
    table: Table,
    treatments: Sequence[Treatment],
    own_headings: Mapping[str, str] = MappingProxyType({}),
) -> tuple[tuple[Place, ...], list[Fault]]:
    """What each column of a file is, and what is wrong with the header.

    Parameters
    ----------
    table : Table
        Its header says what the columns are.
    treatments : sequence of Treatment
        The campaign's treatments; each may have a column.
    own_headings : mapping of str to str
        The tester's own headings, each with the log's for it.
    """
    by_key = {column_key(treatment.name): treatment.name for treatment in treatments}
    own = {column_key(heading): meant for heading, meant in own_headings.items()}
    places = tuple(
        replace(_place(own.get(column_key(heading), heading), by_key), heading=heading)
        for heading in table.headings
    )
    faults = _unit_faults(table, places) + _repeated_columns(table, places)
    faults += _missing(table, places)
    faults += _misnamed_treatments(table, places, treatments)
    return places, faults


def known_column(heading: str) -> tuple[Column | None, str]:
    """The column that the log knows by a heading, and the unit in it; None where it knows none."""
    return _BY_HEADING.get(column_key(heading), (None, ""))


def is_measured(heading: str, own_headings: Mapping[str, str]) -> bool:
    """Whether numbers below a heading were measured, and are no names."""
    own = {column_key(each): meant for each, meant in own_headings.items()}
    column, _ = _BY_HEADING.get(column_key(own.get(column_key(heading), heading)), (None, ""))
    return column is not None and (bool(column.units) or column.name in MEASURED)


def near_misses(places: Sequence[Place]) -> list[str]:
    """Notes on headings that nobody knows: they are kept, but may be a slip of the pen."""
    return [
        f"Column {shown(place.heading)} is not known and kept as it came{_meant(place.heading)}"
        for place in places
        if place.heading and place.column is None and not place.treatment
    ]


def _meant(heading: str) -> str:
    close = get_close_matches(column_key(heading), sorted(_BY_HEADING), n=1, cutoff=0.75)
    return f"; did you mean {close[0]}?" if close else "."


def _place(heading: str, treatments: dict[str, str]) -> Place:
    key = column_key(heading)
    if key in treatments:
        return Place(heading=heading, treatment=treatments[key])
    column, unit = _BY_HEADING.get(key, (None, ""))
    return Place(heading=heading, column=column, unit=unit)


def _unit_faults(table: Table, places: Sequence[Place]) -> list[Fault]:
    """Headings that would be a load or length but for their unit."""
    present = {place.column.name for place in places if place.column}
    return [
        _fault(
            table,
            place.heading,
            f"{shown(place.heading)} names no known unit",
            f"Write {stem}_ and one of {', '.join(_units(stem))}",
        )
        for place in places
        if place.column is None and not place.treatment
        if (stem := _stem(place.heading)) and _lacks_unit(place.heading, stem, present)
    ]


def _units(stem: str) -> list[str]:
    return list(LOAD_UNITS if _STEMS[stem].units == "load" else LENGTH_UNITS)


def _stem(heading: str) -> str:
    key = column_key(heading)
    return next((stem for stem in _STEMS if key == stem or key.startswith(f"{stem}_")), "")


def _lacks_unit(heading: str, stem: str, present: set[str]) -> bool:
    """Not so for a tester's own column, as ``load cell`` beside ``load_kn``, or ``start time``."""
    unit = column_key(heading).removeprefix(stem).removeprefix("_")
    is_absent = _STEMS[stem].name not in present and stem != "start"
    return is_absent or bool(get_close_matches(unit, _units(stem)))


def _repeated_columns(table: Table, places: Sequence[Place]) -> list[Fault]:
    faults = []
    for index, place in enumerate(places):
        earlier = next((other for other in places[:index] if _says_the_same(place, other)), None)
        if earlier is not None:
            units = " in two units" if earlier.unit != place.unit else ""
            found = f"{place.heading} and {earlier.heading} say the same{units}"
            faults.append(_fault(table, place.heading, found, "Keep one of the two columns"))
    return faults


def _says_the_same(place: Place, other: Place) -> bool:
    is_one_column = place.column is not None and place.column is other.column
    return is_one_column or (bool(place.treatment) and place.treatment == other.treatment)


def _missing(table: Table, places: Sequence[Place]) -> list[Fault]:
    names = {place.column.name for place in places if place.column}
    strangers = [place.heading for place in places if place.column is None and place.heading]
    faults = [
        _fault(table, name, f"there is no column {name}", _rename(name, strangers))
        for name in NEEDED
        if name not in names
    ]
    if not names & {"load", "step"}:
        remedy = "Add a column load_kn (or another unit) or step"
        faults.append(_fault(table, "load", "there is no column with a load or step", remedy))
    return faults


def _misnamed_treatments(
    table: Table, places: Sequence[Place], treatments: Sequence[Treatment]
) -> list[Fault]:
    """Columns nobody knows that must be a treatment's, which has none.

    Kept as they came, every changed pull would be taken for one at the baseline.
    """
    headed = {place.treatment for place in places}
    lacking = [treatment for treatment in treatments if treatment.name not in headed]
    faults = []
    for index, place in enumerate(places):
        if not place.heading or place.column is not None or place.treatment:
            continue
        written = {plain(row.cells[index]) for row in table.rows}
        meant = _treatment_meant(place.heading, written, lacking)
        if meant is not None:
            found = f"{shown(place.heading)} seems to be {meant.name}, which has no column"
            remedy = (
                f"Head it {meant.name}; if it is something else, add an empty column headed "
                f"{meant.name}"
            )
            faults.append(_fault(table, place.heading, found, remedy))
    return faults


def _treatment_meant(
    heading: str, written: set[str], lacking: Sequence[Treatment]
) -> Treatment | None:
    """The treatment whose level a column holds, or whose name its heading is nearly."""
    by_key = {column_key(treatment.name): treatment for treatment in lacking}
    holding = [
        treatment
        for treatment in lacking
        if written & {plain(level) for level in treatment.changed_levels if _is_telling(level)}
    ]
    close = get_close_matches(column_key(heading), list(by_key), n=1, cutoff=0.75)
    return holding[0] if holding else by_key[close[0]] if close else None


def _is_telling(level: str) -> bool:
    """Whether a level is not what any column might hold, as a number, or yes and no."""
    return len(level) >= LEAST_TELLING and any(sign.isalpha() for sign in level)


def _rename(name: str, strangers: Sequence[str]) -> str:
    keys = {column_key(heading): heading for heading in strangers}
    close = get_close_matches(name, list(keys), n=1)
    if close:
        return f"Is it {keys[close[0]]!r}? Head that column {name}"
    return f"Add a column headed {name}; the header is the first line, with commas or semicolons"


def _fault(table: Table, heading: str, found: str, remedy: str) -> Fault:
    return Fault(
        source=table.source, line=table.header_line, column=heading, found=found, remedy=remedy
    )
