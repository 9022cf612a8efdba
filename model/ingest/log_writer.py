"""Records back to a pull log, so that reading it gives the same records.

Loads and lengths are written in kN and metres with every digit, words and
names so that no spreadsheet runs them as formulas.
"""

import csv
import datetime as dt
import io
from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Final

from model.base.errors import InputError
from model.ingest.columns import KNOWN_HEADINGS
from model.ingest.formula_guard import guarded
from model.ingest.table import column_key
from model.records.campaign import Campaign
from model.records.pull import Bite, BuriedRode, Pull

_SIGNS: Final = {"at_least": ">", "less_than": "<"}

_RIG: Final[dict[str, Callable[[Pull], str]]] = {  # in every row of a pull
    "pull": lambda pull: pull.code,
    "outing": lambda pull: pull.outing,
    "date": lambda pull: pull.date.isoformat() if pull.date else "",
    "seabed": lambda pull: pull.seabed,
    "site": lambda pull: pull.site or "",
    "anchor": lambda pull: pull.anchor,
    "scope": lambda pull: _digits(pull.scope),
}
_WORDS: Final[dict[str, Callable[[Pull], str]]] = {  # in the first row of a pull only
    "time": lambda pull: _clock(pull.time),
    "soak_min": lambda pull: _digits(pull.soak_min),
    "wind": lambda pull: pull.wind,
    "current": lambda pull: pull.current,
    "sea": lambda pull: pull.sea,
    "video": lambda pull: pull.video,
    "photo": lambda pull: pull.photo,
    "reason": lambda pull: pull.reason,
    "notes": lambda pull: pull.notes,
}
_BITE: Final[dict[str, Callable[[Bite], str]]] = {
    "bite": lambda bite: str(bite.number),
    "start": lambda bite: bite.start.value.replace("_", " "),
    "ending": lambda bite: bite.ending.value.replace("_", " "),
    "reading": lambda bite: bite.reading.value,
    "load_kn": lambda bite: _digits(bite.load_kn),
    "last_held_kn": lambda bite: _digits(bite.last_held_kn),
    "held_s": lambda bite: _digits(bite.held_s),
    "start_kn": lambda bite: _digits(bite.start_kn),
    "resolution_kn": lambda bite: _digits(bite.resolution_kn),
    "mode": lambda bite: bite.mode.value if bite.mode else "",
    "camera": lambda bite: "" if bite.has_camera is None else _yes_no(bite.has_camera),
    "buried_m": lambda bite: _buried(bite.buried),
    "signs": lambda bite: "|".join(f"{k}={_yes_no(v)}" for k, v in bite.signs.items()),
}
IDENTITY: Final = ("pull", "outing", "bite")
"""Headings that say which bite of which pull a row is of."""
BITE_HEADINGS: Final = frozenset(_BITE)
FIRST_ROW_HEADINGS: Final = frozenset(_WORDS)
"""Headings of what a pull says once, and of what each of its bites says."""

_ORDER: Final = (
    *("pull", "outing", "date", "time", "seabed", "site", "anchor", "TREATMENTS", "scope"),
    *_BITE,
    *(heading for heading in _WORDS if heading != "time"),
    "EXTRAS",
)


def write_log(pulls: Sequence[Pull], campaign: Campaign, path: Path) -> None:
    """Write a pull log that :func:`model.ingest.log_file.read_log` reads back alike.

    Parameters
    ----------
    pulls : sequence of Pull
        As the reader makes them: a held bite with its seconds, a peak with
        its resolution.
    campaign : Campaign
        Its treatments have a column each.
    path : pathlib.Path
        Replaced if it is there.

    Raises
    ------
    InputError
        If a text cannot stand in a log, or a tester's own column is called
        like one that the log knows.
    """
    text = log_text(pulls, campaign)
    try:
        path.write_bytes(text.encode("utf-8"))
    except UnicodeEncodeError as error:
        found = f"a text that is not Unicode ({error.reason})"
        raise InputError(found, hint="Correct the pull's words and write again.") from error
    except OSError as error:
        raise InputError(
            f"cannot write {path}: {error.strerror}", hint="Choose another."
        ) from error


def log_text(pulls: Sequence[Pull], campaign: Campaign) -> str:
    """The text of a pull log; see :func:`write_log`."""
    treatments = [treatment.name for treatment in campaign.treatments]
    extras = list(dict.fromkeys(heading for pull in pulls for heading in pull.extras))
    _check_extras(extras, treatments)
    parts = {"TREATMENTS": treatments, "EXTRAS": extras}
    headings = [heading for name in _ORDER for heading in parts.get(name, [name])]
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([guarded(heading) for heading in headings])
    for pull in pulls:
        for bite in pull.bites:
            cells = _cells(pull, bite)
            writer.writerow([guarded(cells.get(heading, "")) for heading in headings])
    text = file.getvalue()
    if "\0" in text:
        raise InputError("a text holds a NUL character", hint="Correct the pull's words.")
    return text


def _cells(pull: Pull, bite: Bite) -> dict[str, str]:
    cells = {heading: of(pull) for heading, of in _RIG.items()} | pull.levels
    cells |= {heading: of(bite) for heading, of in _BITE.items()}
    if bite.number == 1:
        cells |= {heading: of(pull) for heading, of in _WORDS.items()} | pull.extras
    return cells


def _check_extras(extras: Sequence[str], treatments: Sequence[str]) -> None:
    taken = KNOWN_HEADINGS | {column_key(name) for name in treatments}
    for heading in extras:
        if heading != heading.strip() or column_key(heading) in {*taken, ""}:
            raise InputError(
                f"a column of the tester's own cannot be called {heading!r}",
                hint="Call it otherwise: the log knows that heading, or cannot read it.",
            )


def _digits(value: float | None) -> str:
    """Every digit of a number and no exponent, so that it reads back as it was."""
    if value is None:
        return ""
    return format(Decimal(repr(value)), "f").removesuffix(".0")


def _clock(time: dt.time | None) -> str:
    if time is None:
        return ""
    has_seconds = time.second or time.microsecond
    return time.isoformat() if has_seconds else time.isoformat(timespec="minutes")


def _yes_no(is_so: bool) -> str:
    return "yes" if is_so else "no"


def _buried(buried: BuriedRode | None) -> str:
    if buried is None:
        return ""
    length = _digits(buried.length_m)
    if buried.kind != "reading":
        return _SIGNS[buried.kind] + length
    decimals = len(length.partition(".")[2])
    if buried.resolution_m in {None, float(f"1e-{decimals}")}:
        return length
    return f"{length}±{_digits((buried.resolution_m or 0.0) / 2)}"
