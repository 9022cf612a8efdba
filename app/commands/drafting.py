"""The draft of a campaign file from a log: what to ask, and what to say of it."""

import shlex
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import typer

from app.terminal import fault_json, show, show_json, tell, tell_error, tell_notes
from model.base.errors import InputError

if TYPE_CHECKING:
    from model.ingest.draft_questions import DraftQuestion
    from model.service.drafts import Drafted

HEADING: Final = "heading."
"""Begins the key under which is said what a heading of the log means."""
SHOWN_FAULTS: Final = 10
"""Faults of the log that are spelt out; the import names them all."""


def draft(
    log: Path, output: Path | None, say: Sequence[str], *, may_replace: bool, as_json: bool
) -> None:
    """Draft a campaign file from a log; what it leaves open is asked at a terminal."""
    from model.service.drafts import look_through, write_draft

    answers, headings = _said(say)
    target = output or log.with_suffix(".toml")
    looked = look_through(log, headings)
    name = answers.pop("name", "")
    if sys.stdin.isatty() and not as_json:
        answers = {**_asked(looked.questions, answers), **answers}
    done = write_draft(looked, answers, target=target, name=name, may_replace=may_replace)
    tell_notes(done.notes)
    if as_json:
        show_json(_draft_json(done, log))
    else:
        _tell_faults(done, log)
        show(_ending(done, log))


def _said(say: Sequence[str]) -> tuple[dict[str, str], dict[str, str]]:
    """Answers by their key, and what headings mean by the heading, which may have an ``=``."""
    answers, headings = {}, {}
    for text in say:
        is_heading = text.lstrip().casefold().startswith(HEADING)
        key, equals, answer = text.rpartition("=") if is_heading else text.partition("=")
        if not equals or not key.strip():
            raise InputError(f"--say {text!r} is no KEY=ANSWER", hint='Write --say "mass_kg.S6=6".')
        if is_heading:
            headings[key.strip()[len(HEADING) :]] = answer
        else:
            answers[key.strip()] = answer
    return answers, headings


def _asked(questions: "Sequence[DraftQuestion]", answers: Mapping[str, str]) -> dict[str, str]:
    """What a person says to each question; an empty line leaves it open."""
    tell("An empty line takes what stands in brackets, or leaves the question open.")
    said: dict[str, str] = {}
    try:
        for question in questions:
            is_void = question.needs_ladder and "unknown" in {
                said.get("ladder"),
                answers.get("ladder"),
            }
            if question.key not in answers and not is_void:
                said[question.key] = _asked_once(question)
    except typer.Abort as error:
        raise InputError("stopped before the end", hint="Nothing was written.") from error
    return said


def _asked_once(question: "DraftQuestion") -> str:
    while True:
        words = question.words[0].upper() + question.words[1:]
        answer: str = typer.prompt(
            words, default=question.guess, show_default=bool(question.guess), err=True
        )
        try:
            if answer.strip():
                question.read(answer.strip())
        except InputError as error:
            tell_error(error.message, error.hint)
        else:
            return answer


def _draft_json(done: "Drafted", log: Path) -> dict[str, object]:
    gaps = [
        {"key": gap.key, "line": line, "question": gap.words, "guess": gap.guess}
        for gap, line in done.gaps
    ]
    return {
        "draft": str(done.path),
        "log": str(log),
        "gaps": gaps,
        "notes": list(done.notes),
        "faults_of_log": [fault_json(fault) for fault in done.faults],
    }


def _tell_faults(done: "Drafted", log: Path) -> None:
    if not done.faults:
        return
    tell(f"Before {log.name} can be imported it has to be put right itself:")
    for fault in done.faults[:SHOWN_FAULTS]:
        tell(f"  {fault}")
    if len(done.faults) > SHOWN_FAULTS:
        tell(f"  and {len(done.faults) - SHOWN_FAULTS} more")


def _ending(done: "Drafted", log: Path) -> str:
    file, source = shlex.quote(str(done.path)), shlex.quote(str(log))
    lines = [f"A draft of the campaign file is in {done.path}."]
    if done.gaps:
        count = "One thing" if len(done.gaps) == 1 else f"{len(done.gaps)} things"
        lines.append(f"{count} in it only you know:")
        lines += [f"  line {line}: {gap.words} ({gap.key})" for gap, line in done.gaps]
        lines.append("Fill them in there, or give them as --say KEY=ANSWER.")
    lines.append(f"Next: look through it, then kedgewise new {file}, kedgewise import {source}")
    return "\n".join(lines)
