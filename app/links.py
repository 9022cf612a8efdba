"""A question as the parameters of a link, and back: a link holds the question.

``question=NAME`` names a standing question; otherwise every part stands for
itself: ``a``, ``b`` (anchors; absent means in general), ``a.TREATMENT`` (levels
other than the baseline), ``a_scope``, ``seabed`` (repeated), ``measure``,
``hold_kn``, ``over``.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from model.base.constants import MOST_LOAD_KN
from model.base.errors import InputError, UnknownName
from model.ingest.known_names import shown, suggestion
from model.records.campaign import Campaign
from model.records.question import Question, SetUp
from model.service.answers import without_baselines

Parameters = dict[str, list[str]]

NAME: Final = "question"
ASKED_HERE: Final = "asked here"
"""Name of a question that is not one of the campaign's standing ones."""


def _setup_parameters(letter: str, setup: SetUp) -> Parameters:
    found: Parameters = {} if setup.anchor is None else {letter: [setup.anchor]}
    found |= {f"{letter}.{treatment}": [level] for treatment, level in setup.levels.items()}
    if setup.scope is not None:
        found[f"{letter}_scope"] = [f"{setup.scope:g}"]
    return found


def _asks_the_same(question: Question, other: Question) -> bool:
    parts = {"a", "b", "seabeds", "measure", "hold_kn", "over"}
    return question.model_dump(include=parts) == other.model_dump(include=parts)


def standing_or_itself(question: Question, campaign: Campaign) -> Question:
    """The standing question that asks the same, with its name and band, or the question itself."""
    plain = [
        standing.model_copy(
            update={
                "a": without_baselines(standing.a, campaign),
                "b": without_baselines(standing.b, campaign),
            }
        )
        for standing in campaign.questions
    ]
    same = (
        standing
        for standing, bare in zip(campaign.questions, plain, strict=True)
        if _asks_the_same(bare, question)
    )
    return next(same, question)


def parameters_of(question: Question, campaign: Campaign) -> Parameters:
    """Link parameters that bring the same question back; see :func:`question_from`."""
    if question in campaign.questions:
        return {NAME: [question.name]}
    found = _setup_parameters("a", without_baselines(question.a, campaign))
    found |= _setup_parameters("b", without_baselines(question.b, campaign))
    found["measure"] = [str(question.measure)]
    if question.seabeds:
        found["seabed"] = list(question.seabeds)
    if question.hold_kn is not None:
        found["hold_kn"] = [f"{question.hold_kn!r}"]
    if question.over != "campaign":
        found["over"] = [question.over]
    return found


def _one(parameters: Mapping[str, Sequence[str]], key: str) -> str | None:
    values = parameters.get(key, ())
    return values[-1] if values else None


def _known(kind: str, name: str, known: Sequence[str]) -> str:
    if name not in known:
        raise UnknownName(
            f"the link names an unknown {kind} {shown(name)}",
            hint=f"{suggestion(name, known)}.",
        )
    return name


def _setup_from(
    letter: str, parameters: Mapping[str, Sequence[str]], campaign: Campaign
) -> dict[str, object]:
    levels: dict[str, str] = {}
    for treatment in campaign.treatments:
        level = _one(parameters, f"{letter}.{treatment.name}")
        if level is not None and _known("level", level, treatment.levels) != treatment.baseline:
            levels[treatment.name] = level
    anchor = _one(parameters, letter)
    codes = [anchor.code for anchor in campaign.anchors]
    return {
        "anchor": None if anchor is None else _known("anchor", anchor, codes),
        "levels": levels,
        "scope": _one(parameters, f"{letter}_scope"),
    }


def asks_something(parameters: Mapping[str, Sequence[str]]) -> bool:
    """Whether a link holds a question, or only what others have hung onto it."""
    own = {NAME, "a", "b", "a_scope", "b_scope", "seabed", "measure", "hold_kn", "over"}
    return any(key in own or key.startswith(("a.", "b.")) for key in parameters)


def question_from(parameters: Mapping[str, Sequence[str]], campaign: Campaign) -> Question:
    """The question a link holds.

    Parameters
    ----------
    parameters : mapping of str to sequence of str
        What stands behind the ``?`` of the link; keys nobody knows are passed over.

    Raises
    ------
    UnknownName
        If it names something that the campaign does not have.
    InputError
        If the parts do not make a question.
    """
    name = _one(parameters, NAME)
    if name is not None:
        _known("question", name, [question.name for question in campaign.questions])
        return next(question for question in campaign.questions if question.name == name)
    seabeds = [seabed.name for seabed in campaign.seabeds]
    parts: dict[str, object] = {
        "name": ASKED_HERE,
        "a": _setup_from("a", parameters, campaign),
        "b": _setup_from("b", parameters, campaign),
        "seabeds": tuple(
            _known("seabed", seabed, seabeds) for seabed in parameters.get("seabed", ())
        ),
        "hold_kn": _one(parameters, "hold_kn"),
    }
    parts |= {key: value for key in ("measure", "over") if (value := _one(parameters, key))}
    try:
        question = Question.model_validate(parts)
        if campaign.filled(question.a) == campaign.filled(question.b):
            raise ValueError("both sides are the same set-up")
        if question.hold_kn is not None and not question.hold_kn <= MOST_LOAD_KN:  # nor is a NaN
            raise ValueError(f"hold_kn: write up to {MOST_LOAD_KN:g}")
        return standing_or_itself(question, campaign)
    except (ValidationError, ValueError) as error:
        raise InputError(
            "the link does not hold a question that can be asked",
            hint=f"The reason: {_reasons(error)}. Choose its parts below.",
        ) from error


def _reasons(error: ValueError) -> str:
    if isinstance(error, ValidationError):
        return "; ".join(_reason(fault) for fault in error.errors())
    return str(error)


def _reason(fault: ErrorDetails) -> str:
    """What is wrong with one part, by its name in the link where it has one."""
    place = ".".join(str(part) for part in fault["loc"])
    return f"{place}: {fault['msg']}" if place else fault["msg"].removeprefix("Value error, ")
