"""From what a user types to questions: standing ones, a treatment, two set-ups."""

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final, TypedDict, Unpack

from pydantic import ValidationError

from model.base.constants import LEAST, MOST_LOAD_KN
from model.base.errors import InputError, UnknownName
from model.base.units import LOAD_SYMBOLS, from_kn, to_kn
from model.ingest.known_names import find_name
from model.ingest.setup_text import BAND_EXAMPLE, parse_band, parse_setup
from model.records.campaign import Campaign
from model.records.question import Band, Measure, Question, SetUp
from model.records.treatment import Treatment

_LONGEST_NAME: Final = 120
"""Characters of a question's name; a longer one is cut."""


def find(campaign: Campaign, name: str) -> tuple[Question, ...]:
    """The standing question of a name, or each changed level of a treatment in general.

    Raises
    ------
    UnknownName
        With the names that come close.
    InputError
        If the treatment has no changed level to ask about.
    """
    questions = {question.name: question for question in campaign.questions}
    treatments = {treatment.name: treatment for treatment in campaign.treatments}
    known = [*questions, *treatments]
    found = find_name(name.strip(), list(dict.fromkeys(known)))
    if found in questions:
        return (questions[found],)
    if found in treatments:
        treatment = treatments[found]
        if not treatment.changed_levels:
            raise InputError(
                f"the treatment {treatment.name!r} has no level but its baseline, "
                f"{treatment.baseline!r}",
                hint="Add the level that it is to be compared with to the campaign file, and run "
                "`kedgewise new` again.",
            )
        return treatment_questions(treatment)
    close = get_close_matches(name, known, n=3, cutoff=0.4) or known
    raise UnknownName(
        f"no standing question and no treatment is called {name!r}",
        hint=f"Known: {', '.join(close)}." if close else "The campaign has no questions yet.",
    )


def treatment_questions(treatment: Treatment) -> tuple[Question, ...]:
    """Each changed level of a treatment against its baseline, over anchors and seabeds."""
    return tuple(
        Question(
            name=_name(f"{treatment.name}: {level} against {treatment.baseline}"),
            a=SetUp(levels={treatment.name: level}),
            b=SetUp(),
        )
        for level in treatment.changed_levels
    )


class Terms(TypedDict, total=False):
    """How two set-ups are compared, as typed; what is left out is usual.

    Parameters
    ----------
    seabeds : sequence of str
        Empty means all of the campaign's.
    measure : str or None
        The typical load unless given, or ``hold`` where a load to hold is.
    hold : float or None
        Load for the measure ``hold``, in the campaign's own load unit.
    band : str or None
        As ``1.15``, ``0.87..1.15`` or ``±0.10``.
    is_next_anchor : bool
        Ask about the next anchor like these instead of this campaign's.
    """

    seabeds: Sequence[str]
    measure: str | None
    hold: float | None
    band: str | None
    is_next_anchor: bool


def compare(campaign: Campaign, a: str, b: str, **terms: Unpack[Terms]) -> Question:
    """Set-up A against set-up B, as typed.

    Parameters
    ----------
    a, b : str
        As ``anchor=S6, leader=wire 2 m, scope=5``; without an anchor: in general.
    **terms
        See :class:`Terms`.

    Raises
    ------
    UnknownName
        If a seabed, anchor, treatment or level is not the campaign's.
    InputError
        If the parts do not make a question.
    """
    setup_a, setup_b = parse_setup(a, campaign), parse_setup(b, campaign)
    if campaign.filled(setup_a) == campaign.filled(setup_b):
        raise InputError(
            "both sides are the same set-up",
            hint="What is not named is the baseline or the usual: change something on one side.",
        )
    if (setup_a.anchor is None) != (setup_b.anchor is None):
        raise InputError(
            "name an anchor on both sides or on neither",
            hint='Compare two set-ups, as --a "anchor=S6, leader=wire 2 m" --b "anchor=S6".',
        )
    plain = Question(name=_name(f"{a} against {b}"), a=setup_a, b=setup_b)
    return _reworked(campaign, plain, terms)


def vary(campaign: Campaign, question: Question, **terms: Unpack[Terms]) -> Question:
    """The same set-ups asked otherwise: a question of its own, unless nothing differs.

    Parameters and errors as for :func:`compare`; what is not given stays as it is.
    """
    varied = _reworked(campaign, question, terms)
    if varied == question:
        return question
    hold = terms.get("hold")
    asked = (
        terms.get("measure"),
        None if hold is None else f"{hold:g} {LOAD_SYMBOLS[campaign.load_unit]}",
        terms.get("band"),
        *terms.get("seabeds", ()),
        "next anchor" if terms.get("is_next_anchor") else None,
    )
    how = f" ({', '.join(part for part in asked if part)})"[:_LONGEST_NAME]
    name = _name(f"{question.name[: _LONGEST_NAME - len(how)]}{how}")
    return varied.model_copy(update={"name": name})


def _name(text: str) -> str:
    """A name from a text of any length, on one line."""
    return " ".join(text.split())[:_LONGEST_NAME].strip()


def _reworked(campaign: Campaign, question: Question, terms: Terms) -> Question:
    """A question with what was typed in the place of its own."""
    measure, hold = terms.get("measure"), terms.get("hold")
    is_next_anchor = terms.get("is_next_anchor", False)
    seabeds = _seabeds(campaign, terms.get("seabeds", ()))
    asked = question.measure if measure is None else _measure(measure)
    if measure is None and hold is not None:
        asked = Measure.HOLD
    if is_next_anchor and question.a.anchor is not None:
        raise InputError(
            "the set-ups name an anchor, so there is no next one to ask about",
            hint='Leave the anchor out, as --a "leader=wire 2 m" --b "leader=chain only".',
        )
    try:
        return Question(
            name=question.name,
            a=question.a,
            b=question.b,
            seabeds=seabeds or question.seabeds,
            measure=asked,
            hold_kn=_hold_kn(campaign, question, asked, hold),
            over="next" if is_next_anchor else question.over,
            **_band(question, asked, terms.get("band")),
        )
    except ValidationError as error:
        reasons = [fault["msg"].removeprefix("Value error, ") for fault in error.errors()]
        raise InputError(
            f"this is no question: {'; '.join(reasons)}",
            hint='Compare two set-ups, as --a "anchor=S6, leader=wire 2 m" --b "anchor=S6".',
        ) from error


def _hold_kn(
    campaign: Campaign, question: Question, measure: Measure, hold: float | None
) -> float | None:
    """The load to hold, kN; None where the measure takes none and none was given."""
    if hold is not None:
        return _typed_hold_kn(campaign, measure, hold)
    if measure is not Measure.HOLD or question.hold_kn is not None:
        return question.hold_kn if measure is Measure.HOLD else None
    ladders = [ladder.loads_kn for ladder in campaign.ladders]
    steps = ladders[0] if ladders else (campaign.boats[0].top_thrust_kn,)
    step = from_kn(steps[len(steps) // 2], campaign.load_unit)
    unit, example = LOAD_SYMBOLS[campaign.load_unit], f"{float(f'{step:.3g}'):g}"
    raise InputError(
        "the measure hold needs a load", hint=f"Add it in {unit}, as --hold {example}."
    )


def _typed_hold_kn(campaign: Campaign, measure: Measure, hold: float) -> float:
    unit = campaign.load_unit
    if measure is not Measure.HOLD:
        raise InputError(
            f"--hold {hold:g} beside the measure {measure}, which takes no load",
            hint="Leave out --hold, or ask for the measure hold.",
        )
    hold_kn = to_kn(hold, unit)
    if not LEAST <= hold_kn <= MOST_LOAD_KN:  # nor is a NaN within
        least, most = (f"{from_kn(kn, unit):.4g}" for kn in (LEAST, MOST_LOAD_KN))
        raise InputError(
            f"--hold {hold:g} is no load that can be held",
            hint=f"Write {least} to {most} {LOAD_SYMBOLS[unit]}.",
        )
    return hold_kn


def _band(question: Question, measure: Measure, band: str | None) -> dict[str, Band]:
    """The band that was typed, else the question's where it has the measure's scale."""
    if band is None:
        has_scale = measure.is_chance == question.measure.is_chance
        return {"band": question.band} if has_scale else {}
    found = parse_band(band)
    if measure.is_chance != (found.kind == "difference"):
        kind = "a difference of chances" if measure.is_chance else "a ratio of loads or lengths"
        raise InputError(f"the measure {measure} takes a band on {kind}", hint=BAND_EXAMPLE)
    return {"band": found}


def _seabeds(campaign: Campaign, typed: Sequence[str]) -> tuple[str, ...]:
    known = [seabed.name for seabed in campaign.seabeds]
    found: list[str] = []
    for text in typed:
        name = find_name(text.strip(), known)
        if name is None:
            raise UnknownName(
                f"--seabed {text!r}: the campaign has no such seabed",
                hint=f"Known: {', '.join(known)}.",
            )
        if name in found:
            raise InputError(f"--seabed {name!r} is given twice", hint="Give each seabed once.")
        found.append(name)
    return tuple(found)


def _measure(text: str) -> Measure:
    word = text.strip().replace("-", "_")
    if word not in list(Measure):
        raise UnknownName(f"no measure {text!r}", hint=f"Known: {', '.join(Measure)}.")
    return Measure(word)
