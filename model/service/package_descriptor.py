"""The descriptor of a data package: what ``datapackage.json`` says of the files beside it.

It is written here, and what another one says is held against what would be written.
"""

from collections.abc import Sequence
from typing import Final

from pydantic import BaseModel, ConfigDict
from pydantic import Field as Said

from model.base.errors import InputError
from model.ingest.formula_guard import guarded, unguarded
from model.ingest.known_names import shown
from model.ingest.log_fields import Field, fields_of
from model.ingest.table import MAX_COLUMNS
from model.records.campaign import Campaign

DESCRIPTOR: Final = "datapackage.json"
PULLS: Final = "pulls.csv"
CAMPAIGNS: Final = "campaigns.json"
VERSION: Final = "1.0.0"
"""Of the fields and files; the first number goes up where an older program would misread them.

Packages that were written before it was said are of this one.
"""
MOST_RESOURCES: Final = 1000
"""Files that a descriptor may list, those beside it that are not read included."""
KEY: Final = ("outing", "pull", "kept_revision", "bite")
_PATHS: Final = {"pulls": PULLS, "campaigns": CAMPAIGNS}

# Called so that no column of a tester's own is: one of theirs may well be "who" or "source".
_HISTORY: Final[tuple[Field, ...]] = (
    {
        "name": "kept_revision",
        "type": "integer",
        "description": "1 as first stored.",
    },
    {
        "name": "kept_is_removed",
        "type": "boolean",
        "description": "Taken out with this.",
    },
    {
        "name": "kept_campaign",
        "type": "integer",
        "description": "Version of the campaign.",
    },
    {"name": "kept_source", "type": "string", "description": "The file it came from."},
    {"name": "kept_who", "type": "string", "description": "Who corrected it."},
    {"name": "kept_why", "type": "string", "description": "Why."},
    {"name": "kept_stored_at", "type": "string", "description": "When it was stored, UTC."},
)
HISTORY_NAMES: Final = tuple(str(field["name"]) for field in _HISTORY)
_READ_AS: Final = {"format": "default", "decimalChar": ".", "groupChar": "", "bareNumber": True}
"""Keys of a field that say how its cells are written, and the one way in which they are read."""


def describe(campaign: Campaign, headings: Sequence[str]) -> dict[str, object]:
    """The descriptor of a package with these columns of pulls."""
    treatments = [treatment.name for treatment in campaign.treatments]
    about = "Small-boat anchor pulls: one row a bite of each revision of each pull. A text that a "
    about += "spreadsheet would run as a formula has an apostrophe before it."
    fields = [
        field | {"name": guarded(name)}
        for name, field in zip(headings, _fields(headings, treatments), strict=True)
    ]
    return {
        "name": "anchor-pulls",
        "version": VERSION,
        "title": campaign.name,
        "description": ("Invented data. " if campaign.is_invented else "") + about,
        "resources": [
            {
                "name": "pulls",
                "path": PULLS,
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": {"fields": fields, "primaryKey": list(KEY)},
            },
            {"name": "campaigns", "path": CAMPAIGNS, "format": "json", "encoding": "utf-8",
             "mediatype": "application/json"},
        ],
    }  # fmt: skip


def _fields(headings: Sequence[str], treatments: Sequence[str]) -> list[Field]:
    history = {str(field["name"]): field for field in _HISTORY}
    columns = fields_of(headings, treatments)
    return [history.get(name, column) for name, column in zip(headings, columns, strict=True)]


# --- and back -----------------------------------------------------------------------------


class _Part(BaseModel):
    """A part of a descriptor; keys that are not looked at may be added by anybody."""

    model_config = ConfigDict(strict=True, frozen=True)


class _Schema(_Part):
    fields_said: tuple[dict[str, object], ...] = Said(alias="fields", fail_fast=True)
    key: object = Said(alias="primaryKey")
    missing: object = Said(alias="missingValues", default=[""])


class _Resource(_Part):
    name: str
    path: object = None
    encoding: str = "utf-8"
    columns: _Schema | None = Said(alias="schema", default=None)


class _Descriptor(_Part):
    version: str = VERSION
    # Told of one by one, very many that are none would fill the memory.
    resources: tuple[_Resource, ...] = Said(max_length=MOST_RESOURCES, fail_fast=True)


def described_columns(text: str, source: str) -> tuple[str, ...]:
    """Columns of pulls that a descriptor lists, once it is seen to mean what is read.

    Parameters
    ----------
    text : str
        The descriptor.
    source : str
        The package, for a fault of its version.

    Raises
    ------
    ValueError
        If it is no descriptor, or describes other files, columns or types than
        :func:`describe` would; titles, descriptions and keys of others do not matter.
    InputError
        If the package is of a version that cannot be read.
    """
    descriptor = _Descriptor.model_validate_json(text)
    _require_version(descriptor.version, source)
    resources = {one.name: one for one in descriptor.resources}
    for name, path in _PATHS.items():
        if name not in resources:
            raise ValueError(f"no resource {name!r}")
        _require(f"the path of the resource {name!r}", resources[name].path, path)
        encoding = resources[name].encoding.lower()
        _require(f"the encoding of the resource {name!r}", encoding, "utf-8")
    schema = resources["pulls"].columns
    if schema is None:
        raise ValueError("no schema of the resource 'pulls'")
    _require("the primary key of pulls", schema.key, list(KEY))
    _require("what stands for a missing value", schema.missing, [""])
    return _columns(schema.fields_said)


def _require_version(version: str, source: str) -> None:
    first = VERSION.partition(".")[0]
    if version.partition(".")[0] != first:
        raise InputError(
            f"{source}, {DESCRIPTOR}: the package is of version {shown(version)}, and this program "
            f"reads version {first}",
            hint="Nothing of it was stored. Bring kedgewise up to date here, or have the package "
            "exported by a program of this version.",
        )


def _columns(fields: Sequence[Field]) -> tuple[str, ...]:
    if len(fields) > MAX_COLUMNS:
        raise ValueError(f"more than {MAX_COLUMNS} fields")
    names = [field.get("name") for field in fields]
    texts = [unguarded(name) for name in names if isinstance(name, str)]
    if len(texts) < len(names):
        raise ValueError("a field without a name")
    twice = next((name for name in texts if texts.count(name) > 1), None)
    if twice is not None:
        raise ValueError(f"the field {shown(twice)} stands twice")
    # Without a pull, earlier packages had no column besides those of the history.
    wanted = HISTORY_NAMES if set(texts) <= set(HISTORY_NAMES) else (*HISTORY_NAMES, *KEY)
    missing = next((name for name in wanted if name not in texts), None)
    if missing is not None:
        raise ValueError(f"no field {missing!r}")
    for name, field, expected in zip(texts, fields, _fields(texts, ()), strict=True):
        _require(f"the type of the field {shown(name)}", field.get("type"), expected["type"])
        for key, usual in _READ_AS.items():
            _require(f"{key} of the field {shown(name)}", field.get(key, usual), usual)
    return tuple(texts)


def _require(what: str, found: object, wanted: object) -> None:
    """Refuse a value that says otherwise than the files are read."""
    if found != wanted:
        said = "not said" if found is None else shown(str(found))
        raise ValueError(f"{what} is {said}, and must be {shown(str(wanted))}")
