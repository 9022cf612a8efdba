"""Options that several commands take."""

from typing import Annotated, Final

import typer

JSON_OPTION: Final = "--json"
MEASURES: Final = (
    "typical, best, capped, nine_in_ten, hold, upright, sets, resets, turns, buried or next."
)
"""Written out, as the records that list them take a while to load; a test compares the two."""

AsJson = Annotated[bool, typer.Option(JSON_OPTION, help="Print one JSON object, nothing else.")]
StoreOption = Annotated[
    str | None,
    typer.Option("--store", metavar="NAME|PATH|URL", help="The store; else KEDGEWISE_STORE."),
]
