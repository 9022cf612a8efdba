"""Drafting a campaign file from a log that is there already."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Final

from model.base.errors import Fault, FaultyFile, InputError
from model.base.units import LOAD_SYMBOLS
from model.ingest.campaign_draft import draft_campaign_text, unit_asked
from model.ingest.campaign_file import read_campaign_text
from model.ingest.draft_questions import (
    DraftQuestion,
    guessed_class,
    load_unit_of,
    questions_on,
    quoted,
    read_answers,
)
from model.ingest.gaps import GAP
from model.ingest.heading_guesses import WITHOUT_UNIT, names_force, with_unit
from model.ingest.known_names import SHOWN_NAMES, shown
from model.ingest.log_file import read_log_content
from model.ingest.log_survey import LogSurvey, survey_log
from model.ingest.text_file import printable, read_content
from model.store.files import written_whole

logger = logging.getLogger(__name__)

_STAND_INS: Final = {
    "load_unit": quoted("kn"),
    "length_unit": quoted("m"),
    "date_order": quoted("day first"),
    "usual_scope": "5",
    "dwell_s": "1e-3",
    "final_hold_s": "60",
}
"""Answers with which a log is tried before a person has given theirs: none makes a fault."""


@dataclass(frozen=True, kw_only=True)
class Looked:
    """A log that was looked through; `questions` are what it leaves open."""

    path: Path
    content: bytes
    survey: LogSurvey
    questions: tuple[DraftQuestion, ...]


@dataclass(frozen=True, kw_only=True)
class Drafted:
    """A draft that was written.

    Parameters
    ----------
    path : Path
        Of the draft.
    gaps : tuple of (DraftQuestion, int)
        What is still to be filled in, each with its line.
    notes : tuple of str
        What was taken for granted.
    faults : tuple of Fault
        What the log itself has to have put right before it can be imported.
    """

    path: Path
    gaps: tuple[tuple[DraftQuestion, int], ...]
    notes: tuple[str, ...]
    faults: tuple[Fault, ...]


def look_through(log: Path, headings: Mapping[str, str] = MappingProxyType({})) -> Looked:
    """Look through a log for what a campaign file has to say.

    Parameters
    ----------
    headings : mapping of str to str
        What a person says that headings of the log mean, as ``Max force, kN`` is ``load_kn``.

    Raises
    ------
    FaultyFile
        If it is no table; with every fault of its shape.
    InputError
        If it cannot be read, lacks what no campaign file can give, or has no such heading.
    """
    content = read_content(log)
    survey = survey_log(content, printable(log), headings)
    _require_columns(survey)
    return Looked(path=log, content=content, survey=survey, questions=questions_on(survey))


def write_draft(
    looked: Looked,
    answers: Mapping[str, str],
    *,
    target: Path,
    name: str = "",
    may_replace: bool = False,
) -> Drafted:
    """Write the draft of a campaign file, with gaps for what is not answered.

    Parameters
    ----------
    answers : mapping of str to str
        As a person writes them, by the key of their question.
    target : Path
        Of the draft.
    name : str
        Of the campaign; the log's unless given.
    may_replace : bool
        Whether a file that is there is written over.

    Raises
    ------
    InputError
        If an answer cannot be one, or the draft cannot be written.
    """
    read = read_answers(looked.questions, answers)
    called = name.strip() or looked.survey.source.rpartition(".")[0] or looked.survey.source
    text = draft_campaign_text(looked.survey, read, called)
    if target.exists() and not may_replace:
        raise InputError(
            f"{target} is there already",
            hint="Name another with --output, or write over it with --replace.",
        )
    faults = _faults(looked, read, called)
    try:
        with written_whole(target) as temporary:
            temporary.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"cannot write {target}: {reason}", hint="Choose another.") from error
    logger.info("%s: drafted from %s", target, looked.survey.source)
    return Drafted(
        path=target,
        gaps=_gaps(text, looked.questions, read),
        notes=(*_notes(looked.survey), *looked.survey.notes),
        faults=faults,
    )


def _require_columns(survey: LogSurvey) -> None:
    """Refuse a log that lacks columns: all of them at once, with the headings that may be they."""
    lacking = [
        each for each in ("pull", "anchor", "seabed", "ending") if each not in survey.columns
    ]
    lacking += [] if {"load", "step"} & set(survey.columns) else ["load"]
    lacking += ["outing"] if "outing" not in survey.columns and survey.days > 1 else []
    if lacking:
        called = {"load": "load or step", "outing": f"outing, and dates of {survey.days} days"}
        listed = " and no ".join(f"column {called.get(each, each)}" for each in lacking)
        hint = " ".join([_how_to_add(survey, lacking), *survey.notes])
        raise InputError(f"{survey.source} has no {listed}", hint=hint)


def _how_to_add(survey: LogSurvey, lacking: Sequence[str]) -> str:
    left = [*survey.treatments, *survey.unknown]
    hint = "Add what is not there, or head it so; README lists the columns of a log."
    if left:
        more = "" if len(left) <= SHOWN_NAMES else f" and {len(left) - SHOWN_NAMES} more"
        listed = ", ".join(map(shown, left[:SHOWN_NAMES]))
        loads = [heading for heading in left if names_force(heading)]
        is_load = bool(loads) and "load" in lacking
        own = loads[0] if is_load else left[0]
        meant = with_unit("load", own) if is_load else lacking[0]
        hint = (
            f"Headings that were not understood: {listed}{more}. If one of them is it, say which, "
            f'as --say "heading.{own}={meant}". {hint}'
        )
    if "outing" in lacking:
        hint += " An outing names each day, as day 1: pulls are compared within a day."
    return hint


def _gaps(
    text: str, questions: Sequence[DraftQuestion], read: Mapping[str, str]
) -> tuple[tuple[DraftQuestion, int], ...]:
    left = [question for question in questions if question.key not in read]
    found = []
    for number, line in enumerate(text.split("\n"), start=1):
        value, _, beside = line.partition("  # ")
        if value.endswith(f"= {quoted(GAP)}"):
            # In the order of the file: two baselines may be told of in the same words.
            mine = [each for each in left if beside.startswith(each.beside or each.words)][:1]
            left = [each for each in left if each not in mine]
            # A heading without its unit is answered with the unit itself.
            unit = unit_asked(beside) if " and its unit, as " in beside else ""
            found += [
                (each, number) for each in mine or questions if each in mine or each.key == unit
            ]
    return tuple(found)


def _notes(survey: LogSurvey) -> tuple[str, ...]:
    """What was taken for granted, each in a sentence."""
    notes = [
        f"{shown(own)} is taken to be {meant.removesuffix(WITHOUT_UNIT).removesuffix('_')}."
        for own, meant in survey.own_headings.items()
    ]
    notes += [
        f"Column {shown(heading)} is not known, and kept as it comes." for heading in survey.unknown
    ]
    if unit := load_unit_of(survey):
        notes.append(f"Loads are in {LOAD_SYMBOLS[unit]}, by their heading.")
    if survey.has_decimal_comma:
        notes.append("Numbers have decimal commas.")
    if survey.date_order not in {"year first", None}:
        notes.append(f"Dates are {survey.date_order}.")
    if survey.usual_scope is not None:
        notes.append(f"The usual scope is the commonest, {survey.usual_scope:g}.")
    notes += [
        f"{seabed} is {kind}, by its name."
        for seabed in survey.seabeds
        if (kind := guessed_class(seabed))
    ]
    peaks = [outing.name for outing in survey.outings if not outing.is_stepped]
    if peaks:
        names = shown(", ".join(peaks))
        notes.append(f"Every load of {names} is a peak: its ladder is taken as unknown.")
    return tuple(notes)


def _faults(looked: Looked, read: Mapping[str, str], name: str) -> tuple[Fault, ...]:
    """What would be wrong with the draft, or the log, were every gap filled in soundly."""
    survey = looked.survey
    stand_ins = dict(read)
    for question in looked.questions:
        kind = question.key.partition(".")[0]
        if question.key not in read:
            stand_ins[question.key] = _STAND_INS.get(kind) or _stand_in(kind, question, survey)
    text = draft_campaign_text(survey, stand_ins, name)
    try:
        campaign = read_campaign_text(text, "the draft").campaign
        read_log_content(looked.content, survey.source, campaign)
    except FaultyFile as error:
        return error.faults
    return ()


def _stand_in(kind: str, question: DraftQuestion, survey: LogSurvey) -> str:
    """An answer that no pull can contradict."""
    if kind == "top_thrust":
        return f"{survey.highest or 1.0:g}"
    if kind == "ladder":
        return question.read(question.guess or "unknown")
    if kind == "baseline":
        return quoted(survey.treatments[question.key.partition(".")[2]][0])
    return {"class": quoted("other"), "mass_kg": "1", "points_to": quoted("upright")}[kind]
