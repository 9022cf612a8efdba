"""From what a user types to questions: standing ones, a treatment, two set-ups."""

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final, Literal

from pydantic import ValidationError

from model.base.errors import InputError, UnknownName
from model.base.units import to_kn
from model.ingest.setup_text import parse_band, parse_setup
from model.records.campaign import Campaign, Treatment
from model.records.question import Measure, Question, SetUp
from model.service.answers import without_baselines

_LONGEST_NAME: Final = 120
"""Characters of a question's name; a longer one is cut."""


def find(campaign: Campaign, name: str) -> tuple[Question, ...]:
    """The standing question of a name, or each changed level of a treatment in general.

    Raises
    ------
    UnknownName
        With the names that come close.
    """
    folded = name.strip().casefold()
    for question in campaign.questions:
        if question.name.casefold() == folded:
            return (question,)
    for treatment in campaign.treatments:
        if treatment.name.casefold() == folded:
            return treatment_questions(treatment)
    known = [question.name for question in campaign.questions]
    known += [treatment.name for treatment in campaign.treatments]
    close = get_close_matches(name, known, n=3, cutoff=0.4) or known
    raise UnknownName(
        f"no standing question and no treatment is called {name!r}",
        hint=f"Known: {', '.join(close)}." if close else "The campaign has no questions yet.",
    )


def treatment_questions(treatment: Treatment) -> tuple[Question, ...]:
    """Each changed level of a treatment against its baseline, over anchors and seabeds."""
    return tuple(
        Question(
            name=f"{treatment.name}: {level} against {treatment.baseline}"[:_LONGEST_NAME],
            a=SetUp(levels={treatment.name: level}),
            b=SetUp(),
        )
        for level in treatment.changed_levels
    )


def compare(
    campaign: Campaign,
    a: str,
    b: str,
    *,
    seabeds: Sequence[str] = (),
    measure: str = Measure.TYPICAL,
    hold: float | None = None,
    band: str | None = None,
    is_next_anchor: bool = False,
) -> Question:
    """Set-up A against set-up B, as typed.

    Parameters
    ----------
    a, b : str
        As ``anchor=S6, leader=wire 2 m, scope=5``; without an anchor: in general.
    seabeds : sequence of str
        Empty means all of the campaign's.
    hold : float or None
        Load for the measure ``hold``, in the campaign's own load unit.
    band : str or None
        As ``1.15``, ``0.87..1.15`` or ``±0.10``.
    is_next_anchor : bool
        Ask about the next anchor like these instead of this campaign's.

    Raises
    ------
    UnknownName
        If a seabed, anchor, treatment or level is not the campaign's.
    InputError
        If the parts do not make a question.
    """
    over: Literal["campaign", "next"] = "next" if is_next_anchor else "campaign"
    setup_a, setup_b = parse_setup(a, campaign), parse_setup(b, campaign)
    if without_baselines(setup_a, campaign) == without_baselines(setup_b, campaign):
        raise InputError(
            "both sides are the same set-up",
            hint="A level that is not named is the baseline: change something on one side.",
        )
    try:
        return Question(
            name=f"{a} against {b}"[:_LONGEST_NAME],
            a=setup_a,
            b=setup_b,
            seabeds=tuple(_seabed(campaign, seabed) for seabed in seabeds),
            measure=_measure(measure),
            hold_kn=None if hold is None else to_kn(hold, campaign.load_unit),
            over=over,
            **({} if band is None else {"band": parse_band(band)}),
        )
    except ValidationError as error:
        reasons = [fault["msg"].removeprefix("Value error, ") for fault in error.errors()]
        raise InputError(
            f"this is no question: {'; '.join(reasons)}",
            hint='Compare two set-ups, as --a "anchor=S6, leader=wire 2 m" --b "anchor=S6".',
        ) from error


def _seabed(campaign: Campaign, text: str) -> str:
    known = {seabed.name.casefold(): seabed.name for seabed in campaign.seabeds}
    name = known.get(text.strip().casefold())
    if name is None:
        raise UnknownName(
            f"the campaign has no seabed {text!r}", hint=f"Known: {', '.join(known.values())}."
        )
    return name


def _measure(text: str) -> Measure:
    try:
        return Measure(text.strip().replace("-", "_"))
    except ValueError as error:
        raise UnknownName(
            f"there is no measure {text!r}", hint=f"Known: {', '.join(Measure)}."
        ) from error
