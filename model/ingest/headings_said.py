"""What a person says that headings of a log mean, held against the log's own."""

from collections.abc import Mapping

from model.base.errors import InputError
from model.ingest.columns import COLUMNS, LOG_HEADINGS, known_column
from model.ingest.heading_guesses import NO_COLUMN, with_unit
from model.ingest.known_names import shown, suggestion
from model.ingest.table import Table, column_key


def headings_said(table: Table, said: Mapping[str, str]) -> dict[str, str]:
    """What is said of headings, each as the table spells it.

    Parameters
    ----------
    said : mapping of str to str
        Heading of the table to one of a log, as ``load_kn``; a load or length without its unit
        has that of the heading. ``-`` says that it is none of the log's.

    Returns
    -------
    dict
        As :func:`model.ingest.heading_guesses.guess_headings` takes them.

    Raises
    ------
    InputError
        If the table has no such heading, or it cannot be called so.
    """
    own = {column_key(heading): heading for heading in table.headings if heading}
    found: dict[str, str] = {}
    for written, meant in said.items():
        heading = own.get(column_key(written))
        if heading is None:
            raise InputError(
                f"{table.source} has no heading {shown(written)}",
                hint=f"{suggestion(written, list(own.values()))}.",
            )
        if known_column(heading)[0] is not None:
            raise InputError(
                f"{shown(heading)} is a heading that the log knows",
                hint="Nothing has to be said of it; where it is something else, head it otherwise.",
            )
        found[heading] = _meant(heading, meant.strip())
    return found


def _meant(heading: str, meant: str) -> str:
    if meant == NO_COLUMN:
        return NO_COLUMN
    column, unit = known_column(meant)
    bare = {column_key(each.stem or each.name): each for each in COLUMNS if each.units}
    column = column or bare.get(column_key(meant))
    if column is None:
        close = suggestion(meant, (*bare, *LOG_HEADINGS), [each.name for each in COLUMNS])
        raise InputError(
            f"{shown(meant)} is no heading of a log, for {shown(heading)}",
            hint=f"{close}; or {NO_COLUMN} if it is none of them.",
        )
    return column_key(meant) if unit or not column.units else with_unit(column.name, heading)
