"""How a tester's own sheets are written, where it is not as a pull log is."""

from typing import Literal

from pydantic import Field

from model.records.base import Name, Record

DateOrder = Literal["year first", "day first", "month first"]


class Columns(Record):
    """The tester's own headings, and the style of numbers and dates below them.

    Parameters
    ----------
    headings : dict
        From a heading of the sheet to the log's, as ``Kraft`` to ``load_kn``.
    has_decimal_comma : bool
        Whether numbers are written as ``3,2`` though commas may part the cells.
    date_order : str
        Of dates that are not written year first.
    """

    headings: dict[Name, Name] = Field(default_factory=dict)
    has_decimal_comma: bool = False
    date_order: DateOrder = "year first"


PLAIN = Columns()
"""As a pull log is."""
