"""The columns of an exported log as Table Schema has them: type, unit, meaning."""

from collections.abc import Sequence
from typing import Final

Field = dict[str, object]

_TYPES: Final[dict[str, tuple[str, str]]] = {
    "pull": ("string", "Number or name of the pull, once an outing."),
    "outing": ("string", "A day on the water."),
    "date": ("date", ""),
    "time": ("string", "Hours and minutes, of the first bite."),
    "seabed": ("string", ""),
    "site": ("string", ""),
    "anchor": ("string", "Code of the specimen."),
    "scope": ("number", "Rode length over depth and bow height; empty is the campaign's usual."),
    "bite": ("integer", "1 for the first; each later one after a slip or a turn."),
    "start": ("string", "fresh, after slip or after turn."),
    "ending": ("string", "never set, released, released then stopped, held, stopped or void."),
    "reading": ("string", "step of the ladder, or peak of a load cell."),
    "load_kn": ("number", "Load at which it let go, or that it held, kN."),
    "last_held_kn": ("number", "Highest step this bite held, where it is not the step below, kN."),
    "held_s": ("number", "Seconds held at that load."),
    "start_kn": ("number", "Thrust that was on when the bite began, kN."),
    "resolution_kn": ("number", "Width of a peak reading, kN."),
    "mode": ("string", "Setting mode as it was seen: upright or on_side; empty is not seen."),
    "camera": ("string", "Whether a camera was used: yes or no; empty is not said."),
    "buried_m": ("string", "Buried rode, m: 0.6, >0.9 at least, <0.2 less than that was seen."),
    "signs": ("string", "name=yes or name=no, with | between."),
    "soak_min": ("number", "Minutes before the pull, min."),
    "wind": ("string", ""),
    "current": ("string", ""),
    "sea": ("string", ""),
    "video": ("string", ""),
    "photo": ("string", ""),
    "reason": ("string", "Why it was stopped, or is void."),
    "notes": ("string", ""),
}


def fields_of(headings: Sequence[str], treatments: Sequence[str]) -> list[Field]:
    """Fields of a Table Schema, one a heading; a heading nobody knows is a tester's own text."""
    return [_field(heading, treatments) for heading in headings]


def _field(heading: str, treatments: Sequence[str]) -> Field:
    about = (
        "Treatment: the level that was pulled." if heading in treatments else "The tester's own."
    )
    kind, words = _TYPES.get(heading, ("string", about))
    described = {"description": words} if words else {}
    return {"name": heading, "type": kind, **described}
