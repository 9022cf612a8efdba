"""What a log cannot say of its campaign, as questions to a person, and how answers are read."""

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, get_args

from model.base.errors import InputError
from model.base.units import LENGTH_UNITS, LOAD_SYMBOLS, LOAD_UNITS
from model.ingest.heading_guesses import WITHOUT_UNIT
from model.ingest.known_names import plain, shown, suggestion
from model.ingest.log_survey import LogSurvey
from model.records.campaign import UNKNOWN_LADDER, SeabedClass
from model.records.columns import DateOrder

NOT_CHANGED: Final = "-"
"""Answers the question for a baseline where a column is of nothing that was changed."""
MOST_STEPS: Final = 20
"""More different loads are no steps of a ladder but what a load cell read."""

_CLASSES: Final[dict[str, SeabedClass]] = {
    **dict.fromkeys(("mud", "silt", "ooze"), "mud"),
    **dict.fromkeys(("sand", "sandy"), "sand"),
    **dict.fromkeys(("gravel", "shingle", "pebble", "pebbles", "stones"), "gravel"),
    "clay": "stiff clay",
}
_NOTHING: Final = ("none", "no", "without", "standard", "plain", "baseline", "normal", "0")
_STEP: Final = re.compile(r"(?:(?P<label>[^=]+)=)?\s*(?P<load>[0-9]+(?:[.,][0-9]+)?)\s*")


@dataclass(frozen=True, kw_only=True)
class DraftQuestion:
    """One thing that only a person knows.

    Parameters
    ----------
    key : str
        What it is answered by, as ``mass_kg.S6``.
    words : str
        What to ask, without a question mark.
    guess : str
        The likeliest answer; empty where the log gives none.
    read : callable
        An answer to the TOML that says it; raises InputError.
    beside : str
        What the gap in the file is told by; like `words` unless given.
    needs_ladder : bool
        Whether it is void where the ladder is unknown.
    """

    key: str
    words: str
    guess: str
    read: Callable[[str], str]
    beside: str = ""
    needs_ladder: bool = False


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    marks = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t"}
    controls = {chr(code): f"\\u{code:04x}" for code in (*range(32), *range(127, 160))}
    signs = {**controls, **marks}
    return '"' + "".join(signs.get(sign, sign) for sign in text) + '"'


def unquoted(toml: str) -> str:
    """A text from how TOML writes it."""
    return str(tomllib.loads(f"text = {toml}")["text"])


def questions_on(survey: LogSurvey) -> tuple[DraftQuestion, ...]:
    """Everything that a survey leaves open, in the order of the campaign file."""
    return (
        *_writing_questions(survey),
        *_boat_questions(survey),
        *_ladder_questions(survey),
        *_name_questions(survey),
    )


def _writing_questions(survey: LogSurvey) -> Iterator[DraftQuestion]:
    if not load_unit_of(survey):
        yield _choice("load_unit", "the unit of its loads", tuple(LOAD_UNITS))
    if WITHOUT_UNIT in {survey.columns.get(name) for name in ("rode", "depth", "buried")}:
        yield _choice("length_unit", "the unit of its lengths", tuple(LENGTH_UNITS), "m")
    if survey.date_order is None:
        orders = get_args(DateOrder)
        yield _choice("date_order", "which order its dates are in", orders, "day first")
    if survey.usual_scope is None:
        words = "the usual scope: rode over depth and bow height, as 5"
        yield DraftQuestion(key="usual_scope", words=words, guess="", read=_number)


def _boat_questions(survey: LogSurvey) -> Iterator[DraftQuestion]:
    unit = LOAD_SYMBOLS.get(load_unit_of(survey), "that unit")
    words = f"the most that the boat can pull, in {unit}"
    if survey.highest is not None:
        words += f"; the highest load in the log is {survey.highest:g}"
    yield DraftQuestion(key="top_thrust", words=words, guess="", read=_number)


def _ladder_questions(survey: LogSurvey) -> Iterator[DraftQuestion]:
    if not any(outing.is_stepped for outing in survey.outings):
        return
    if survey.labels:
        some = "; ".join(f"{label}=…" for label in survey.labels[:4])
        words = f'every step of the ladder with its load, as "{some}"'
        named = ", ".join(f"{{ load = …, label = {quoted(label)} }}" for label in survey.labels[:4])
    else:
        words = 'every step of the ladder, as "1.0 2.0 3.2", also those that the log never names'
        named = ", ".join(f"{step:g}" for step in survey.steps[:MOST_STEPS])
    yield DraftQuestion(
        key="ladder",
        words=f"{words}; or {UNKNOWN_LADDER}",
        guess=_guessed_ladder(survey),
        read=_steps,
        beside=f"every step, increasing; the log names [{named}]. If nobody knows: take this "
        f'section out, and write ladder = "{UNKNOWN_LADDER}" in each outing',
    )
    for key, what in (("dwell_s", "on a step"), ("final_hold_s", "that the top step is held")):
        words = f"the seconds {what}"
        yield DraftQuestion(key=key, words=words, guess="", read=_number, needs_ladder=True)


def _guessed_ladder(survey: LogSurvey) -> str:
    if survey.labels:
        return ""
    if len(survey.steps) > MOST_STEPS:
        return UNKNOWN_LADDER
    return " ".join(f"{step:g}" for step in survey.steps)


def _name_questions(survey: LogSurvey) -> Iterator[DraftQuestion]:
    for seabed in survey.seabeds:
        if not guessed_class(seabed):
            words = f"what kind of bottom {shown(seabed)} is"
            yield _choice(f"class.{seabed}", words, get_args(SeabedClass))
    for anchor in survey.anchors:
        words = f"the mass of anchor {shown(anchor)} in kg"
        yield DraftQuestion(key=f"mass_kg.{anchor}", words=words, guess="", read=_number)
    for name, levels in survey.treatments.items():
        empty = "; its empty cells mean the baseline" if name in survey.with_empty else ""
        words = f"which is the baseline of {shown(name)}: {', '.join(levels)}{empty}"
        yield DraftQuestion(
            key=f"baseline.{name}",
            words=f"{words}; {NOT_CHANGED} if it is nothing that you change on purpose",
            guess=next((level for level in levels if plain(level) in _NOTHING), ""),
            read=_text,
            beside=f"the level to compare with{empty}; add it to levels where it is not among "
            "them; take this section out if it is nothing that you change on purpose",
        )
    for sign in survey.signs:
        words = f"what a yes to {shown(sign)} points to"
        yield _choice(f"points_to.{sign}", words, ("upright", "on_side"))


def load_unit_of(survey: LogSurvey) -> str:
    """The unit that the log's loads are in; empty where it does not say."""
    units = [survey.columns.get(name, "") for name in ("load", "last_held", "start_load")]
    return next((unit for unit in units if unit and unit != WITHOUT_UNIT), "")


def guessed_class(seabed: str) -> str:
    """The class that a seabed's name says; empty where it says none, or two."""
    classes = {_CLASSES[word] for word in plain(seabed).split() if word in _CLASSES}
    return classes.pop() if len(classes) == 1 else ""


def read_answers(questions: Sequence[DraftQuestion], written: Mapping[str, str]) -> dict[str, str]:
    """Answers as TOML, by the key of their question; empty ones are left out.

    Raises
    ------
    InputError
        If one answers no question, or cannot be its answer.
    """
    by_key = {plain(question.key): question for question in questions}
    read = {}
    for key, text in written.items():
        question = by_key.get(plain(key))
        if question is None:
            known = [each.key for each in questions]
            found = f"nothing is left open under {shown(key)}"
            raise InputError(found, hint=f"{suggestion(key, known)}.")
        if text.strip():
            read[question.key] = _read(question, text.strip())
    return read


def _read(question: DraftQuestion, text: str) -> str:
    """An answer as TOML; one that is none names its key, as one of many on a line."""
    try:
        return question.read(text)
    except InputError as error:
        raise InputError(f"{question.key}: {error.message}", hint=error.hint) from error


def _choice(key: str, words: str, choices: Sequence[str], guess: str = "") -> DraftQuestion:
    def read(text: str) -> str:
        found = next((choice for choice in choices if plain(choice) == plain(text)), None)
        if found is None:
            raise InputError(f"{shown(text)} is not {words}", hint=f"Write {', '.join(choices)}.")
        return quoted(found)

    return DraftQuestion(key=key, words=f"{words}: {', '.join(choices)}", guess=guess, read=read)


def _text(text: str) -> str:
    return quoted(text)


def _number(text: str) -> str:
    match = _STEP.fullmatch(text)
    if match is None or match["label"] or float(match["load"].replace(",", ".")) <= 0:
        raise InputError(f"{shown(text)} is no number above 0", hint="Write digits only, as 6.2.")
    return _plainly(match["load"])


def _plainly(number: str) -> str:
    """A number as TOML takes it: no zeros before it, a point in it."""
    whole, point, decimals = number.replace(",", ".").partition(".")
    return f"{whole.lstrip('0') or '0'}{point}{decimals}"


def _steps(text: str) -> str:
    """A ladder's steps as a TOML list; ``unknown`` as that word."""
    if plain(text) == UNKNOWN_LADDER:
        return quoted(UNKNOWN_LADDER)
    parts = text.split(";") if "=" in text or ";" in text else text.split()
    matches = [_STEP.fullmatch(part.strip()) for part in parts if part.strip()]
    steps = []
    for part, match in zip([part for part in parts if part.strip()], matches, strict=True):
        if match is None:
            raise InputError(
                f"{shown(part)} is no step",
                hint='Write "1.0 2.0 3.2", or "900 rpm=1.0; 1200 rpm=2.0", or unknown.',
            )
        load, label = _plainly(match["load"]), (match["label"] or "").strip()
        steps.append(f"{{ load = {load}, label = {quoted(label)} }}" if label else load)
    return f"[{', '.join(steps)}]"
