"""What is shown beside answers and pulls: the store's state, earlier looks, every measure."""

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from model.questions.answer import Answer, Estimate, MeasureRow
from model.records.answer import Finding, PosteriorSummary
from model.records.campaign import Campaign


@dataclass(frozen=True, kw_only=True)
class Overview:
    """What the head of every page says.

    Parameters
    ----------
    posterior : PosteriorSummary or None
        The newest that passed its fit check; None before the first.
    failed_reasons : tuple of str
        Why the newest fit failed, where it did.
    has_changed : bool
        Whether the campaign, or a pull, is not what that posterior was fitted to; where
        pulls came after it, their number says so.
    news : str
        Changes whenever a page would show something else.
    """

    campaign: Campaign
    used_pulls: int
    void_pulls: int
    posterior: PosteriorSummary | None
    failed_reasons: tuple[str, ...] = ()
    has_changed: bool = False
    news: str = ""


@dataclass(frozen=True, kw_only=True)
class Look:
    """One question's answer once so many pulls were known.

    Parameters
    ----------
    pulls : int
        Used pulls that were known.
    state : str
        Whether a fit of them told it, or a fit of fewer with the others weighed in.
    last_pull : str
        ``outing/code`` of the last of them; empty where that was not kept.
    p_higher : float
        Probability that A is higher, 0 to 1.
    """

    at: dt.datetime
    pulls: int
    p_higher: float
    finding: Finding
    posterior: str
    state: Literal["full", "quick"] = "full"
    last_pull: str = ""


@dataclass(frozen=True, kw_only=True)
class Moved:
    """How a question's answer moved.

    Parameters
    ----------
    looks : tuple of Look
        In the order of the pulls known, one for each number of them.
    not_yet : int
        Pulls whose answer on the way is still to be worked out.
    withheld : int
        Pulls at which there was none to give before the next full fit.
    has_worker : bool
        Whether a fitting worker runs, which works out what is not there yet.
    """

    looks: tuple[Look, ...]
    not_yet: int = 0
    withheld: int = 0
    has_worker: bool = False


def measure_rows(answer: Answer) -> tuple[MeasureRow, ...]:
    """Every measure, the one that was asked for among them: first, where it has no row yet."""
    asked = answer.question.measure
    if any(row.measure is asked for row in answer.measures):
        return answer.measures
    found = answer.summary.effect
    own = MeasureRow(
        measure=asked,
        a=answer.a.value,
        b=answer.b.value,
        effect=Estimate(median=found.median, interval=found.interval, unit=found.unit),
        p_higher=answer.summary.p_higher,
    )
    return own, *answer.measures
