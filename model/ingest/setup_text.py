"""Set-ups and bands as people write them on one line."""

import re
from collections.abc import Mapping, Sequence
from typing import Final

from pydantic import ValidationError

from model.base.errors import InputError, UnknownName
from model.ingest.cells import CellFault, Style, read_scope
from model.ingest.known_names import find_name, shown, suggestion
from model.records.campaign import Campaign
from model.records.question import Band, SetUp
from model.records.treatment import SETUP_KEYS

EXAMPLE: Final = 'Write it as "anchor=S6, leader=wire 2 m, scope=5"; what is left out is usual.'
BAND_EXAMPLE: Final = "Write 1.15 or 0.87..1.15 for a ratio, ±0.10 or -0.10..0.10 for a chance."
WIDEST_BAND: Final = 3.0
"""Largest ratio of a band; within a wider one lies nearly every pair of anchors."""
EVERY_ANCHOR: Final = SetUp().describe()

_NUMBER: Final = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_RATIO: Final = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_RANGE: Final = re.compile(rf"({_NUMBER})\s*\.\.\s*({_NUMBER})")
_PLUS_MINUS: Final = re.compile(r"(?:±|\+-|\+/-)\s*([0-9]+(?:\.[0-9]+)?)")


def parse_setup(text: str, campaign: Campaign) -> SetUp:
    """A set-up from one line, as ``anchor=S6, leader=wire 2 m, scope=5``.

    Parameters
    ----------
    text : str
        Pairs of key and value with commas between them, in any order.
    campaign : Campaign
        Whose anchors, treatments and levels may be named.

    Raises
    ------
    UnknownName
        If it names an anchor, treatment or level that the campaign does not
        have; the known ones are listed.
    InputError
        If the line is no list of pairs.
    """
    anchors = [anchor.code for anchor in campaign.anchors]
    treatments = {treatment.name: treatment.levels for treatment in campaign.treatments}
    return read_setup(text, anchors, treatments)


def read_setup(text: str, anchors: Sequence[str], treatments: Mapping[str, Sequence[str]]) -> SetUp:
    """A set-up from one line; see :func:`parse_setup`."""
    if text.strip() == EVERY_ANCHOR:
        return SetUp()
    pairs = _pairs(text, anchors, treatments)
    scope = pairs.pop("scope", None)
    anchor = pairs.pop("anchor", None)
    return name_setup(anchor, pairs, _scope(scope), anchors, treatments)


def reads_back(name: str) -> bool:
    """Whether an anchor's code or a level, written into a set-up's text, comes out as itself."""
    try:
        found = read_setup(SetUp(anchor=name, scope=1).describe(), (name,), {})
    except InputError:
        return False
    return found.anchor == name


def name_setup(
    anchor: str | None,
    levels: Mapping[str, str],
    scope: float | None,
    anchors: Sequence[str],
    treatments: Mapping[str, Sequence[str]],
) -> SetUp:
    """A set-up with its names as the campaign spells them.

    Raises
    ------
    UnknownName
        With every name that is not known.
    """
    unknown: list[tuple[str, str]] = []
    code = None if anchor is None else find_name(anchor, anchors)
    if anchor is not None and code is None:
        unknown.append((f"no anchor {shown(anchor)}", suggestion(anchor, anchors)))
    named: dict[str, str] = {}
    for key, written in levels.items():
        treatment = find_name(key, list(treatments))
        level = None if treatment is None else find_name(written, treatments[treatment])
        if treatment is None:
            known = [*SETUP_KEYS, *treatments]
            unknown.append((f"no treatment {shown(key)}", suggestion(key, known)))
        elif level is None:
            remedy = suggestion(written, treatments[treatment])
            unknown.append((f"no level {shown(written)} of {treatment}", remedy))
        else:
            named[treatment] = level
    if unknown:
        hint = ". ".join(remedy for _, remedy in unknown)
        raise UnknownName("; ".join(found for found, _ in unknown), hint=f"{hint}.")
    try:
        return SetUp(anchor=code, levels=named, scope=scope)
    except ValidationError as error:
        raise InputError(f"scope {scope} cannot be", hint="Write 1 to 100.") from error


def _pairs(
    text: str, anchors: Sequence[str], treatments: Mapping[str, Sequence[str]]
) -> dict[str, str]:
    pairs: dict[str, str] = {}
    last = ""
    for part in text.split(","):
        key, equals, value = part.partition("=")
        key = " ".join(key.split())
        if not equals and last:
            # A level may hold a comma of its own.
            pairs[last] += f",{part.rstrip()}"
            continue
        if not equals or not key or not value.strip():
            meant = "" if equals else _meant(part, anchors, treatments)
            raise InputError(f"{shown(text)} is no set-up", hint=f"{meant}{EXAMPLE}")
        last = key.casefold() if key.casefold() in SETUP_KEYS else key
        if last in pairs:
            raise InputError(f"{shown(text)} names {last} twice", hint=EXAMPLE)
        pairs[last] = value.strip()
    return pairs


def _meant(part: str, anchors: Sequence[str], treatments: Mapping[str, Sequence[str]]) -> str:
    """What a name without a key stands for, where the campaign has it once."""
    known = {"anchor": anchors, **treatments}
    meant = [
        f"{key}={name}" for key, names in known.items() if (name := find_name(part.strip(), names))
    ]
    return f"Did you mean {meant[0]}? " if len(meant) == 1 else ""


def _scope(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return read_scope(text, Style())
    except CellFault as fault:
        raise InputError(f"scope: {fault.found}", hint=f"{fault.remedy}.") from fault


def parse_band(text: str) -> Band:
    """A band from ``1.15``, ``0.87..1.15`` (ratios), ``±0.10`` or ``-0.10..0.10`` (chances).

    A single ratio r stands for 1/r to r. A range with an end below 0 is one
    of differences.

    Raises
    ------
    InputError
        If it is none of these, or does not hold "no difference".
    """
    written = text.strip().replace("−", "-")
    single, both, half = (pattern.fullmatch(written) for pattern in (_RATIO, _RANGE, _PLUS_MINUS))
    try:
        if single and float(written) > 1:
            ratio = float(written)
            _require_narrow(text, 1 / ratio, ratio)
            return Band(kind="ratio", lower=1 / ratio, upper=ratio)
        if both:
            lower, upper = (float(end) for end in both.groups())
            _require_narrow(text, lower, upper)
            return Band(kind="difference" if lower < 0 else "ratio", lower=lower, upper=upper)
        if half:
            width = float(half.group(1))
            return Band(kind="difference", lower=-width, upper=width)
    except ValidationError as error:
        reason = error.errors()[0]["msg"].removeprefix("Value error, ")
        raise InputError(f"{shown(text)} is no band: {reason}", hint=BAND_EXAMPLE) from error
    raise InputError(f"{shown(text)} is no band", hint=BAND_EXAMPLE)


def _require_narrow(text: str, lower: float, upper: float) -> None:
    """Refuse a band of ratios within which nearly everything lies: 10 is no ten per cent."""
    if lower > 0 and max(upper, 1 / lower) > WIDEST_BAND:  # below 0 it is one of differences
        raise InputError(
            f"{shown(text)} is a band up to {max(upper, 1 / lower):.3g} times as much",
            hint=f"A band is what makes no practical difference: at most {WIDEST_BAND:g} times. "
            "Ten per cent are 1.1.",
        )
