"""Pulls as marks on a load axis: what was recorded, per side of a question."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isinf
from typing import Final, Literal

from model.arrays.ranges import capacity_range
from model.questions.sides import is_at_scope, side_pulls
from model.records.campaign import Campaign
from model.records.pull import Bite, Ending, ModeSeen, Pull
from model.records.question import Question, SetUp

SideLetter = Literal["A", "B"]
ENDING_WORDS: Final[Mapping[Ending, str]] = {
    Ending.NEVER_SET: "never set",
    Ending.RELEASED: "let go",
    Ending.RELEASED_THEN_STOPPED: "let go, then stopped",
    Ending.HELD: "held to the end",
    Ending.STOPPED: "stopped by the crew",
    Ending.VOID: "void",
}
MODE_WORDS: Final[Mapping[ModeSeen, str]] = {
    ModeSeen.UPRIGHT: "upright",
    ModeSeen.ON_SIDE: "on its side",
}


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One bite of one pull on the load axis.

    Parameters
    ----------
    lower_kn : float
        Highest load it is known to have stood, kN; 0 where it stood none.
    upper_kn : float or None
        Load at which it had let go, kN; None where it never did (an arrow).
    has_scope : bool
        Whether it was pulled at its side's scope; others count too, by way of the model.
    """

    side: SideLetter
    pull: str
    bite: int
    lower_kn: float
    upper_kn: float | None
    ending: Ending
    mode: str
    anchor: str
    seabed: str
    scope: float | None
    has_scope: bool

    @property
    def is_cut_off(self) -> bool:
        """Whether the bite held all it was given, so that its capacity lies above."""
        return self.upper_kn is None


@dataclass(frozen=True, kw_only=True)
class SideMarks:
    """Marks of both sides, and the void pulls that are listed but not drawn.

    What spoilt a void pull stands in its `reason`, also where the log has it in the notes.
    """

    marks: tuple[Mark, ...]
    void: tuple[tuple[SideLetter, Pull], ...]


def _mode_words(bite: Bite) -> str:
    return "not seen" if bite.mode is None else MODE_WORDS[bite.mode]


def _ranges(pull: Pull, campaign: Campaign) -> Iterator[tuple[Bite, float, float]]:
    """Each bite with the ends of its range, kN, as the fit takes it."""
    ladder = campaign.ladder_of(pull.outing)
    top_kn = campaign.boat(campaign.outing(pull.outing).boat).top_thrust_kn
    for bite, start_kn in zip(pull.bites, pull.start_thrusts_kn, strict=True):
        if not pull.has_set:
            yield bite, 0.0, 0.0
            continue
        found = capacity_range(bite, ladder, start_kn, top_kn)
        yield bite, found.lower_kn, found.upper_kn


def _marks_of(side: SideLetter, pull: Pull, has_scope: bool, campaign: Campaign) -> Iterator[Mark]:
    for bite, lower_kn, upper_kn in _ranges(pull, campaign):
        yield Mark(
            side=side,
            pull=pull.id,
            bite=bite.number,
            lower_kn=lower_kn,
            upper_kn=None if isinf(upper_kn) else upper_kn,
            ending=bite.ending,
            mode=_mode_words(bite),
            anchor=pull.anchor,
            seabed=pull.seabed,
            scope=pull.scope,
            has_scope=has_scope,
        )


def _with_reason(pull: Pull) -> Pull:
    """A log may say what spoilt a pull in its notes alone."""
    return pull if pull.reason.strip() else pull.model_copy(update={"reason": pull.notes})


def side_marks(question: Question, pulls: Sequence[Pull], campaign: Campaign) -> SideMarks:
    """Marks of every pull of either side, in the order in which the pulls were made.

    The pulls are those that the answer counts, see :func:`model.questions.sides.side_pulls`.
    """
    marks: list[Mark] = []
    void: list[tuple[SideLetter, Pull]] = []
    sides: tuple[tuple[SideLetter, SetUp], ...] = (("A", question.a), ("B", question.b))
    for side, setup in sides:
        found = side_pulls(campaign, question, setup, pulls)
        void += [(side, _with_reason(pull)) for pull in found.void]
        for pull in found.used:
            marks += _marks_of(side, pull, is_at_scope(campaign, setup, pull), campaign)
    return SideMarks(marks=tuple(marks), void=tuple(void))
