"""What pages are handed beside answers and pulls: the state of the store, and earlier looks."""

import datetime as dt
from dataclasses import dataclass

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
        Why the newest fit failed its check, where it did.
    """

    campaign: Campaign
    used_pulls: int
    void_pulls: int
    posterior: PosteriorSummary | None
    failed_reasons: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Look:
    """One question's answer at one posterior.

    Parameters
    ----------
    pulls : int
        Pulls known to that posterior.
    p_higher : float
        Probability that A is higher, 0 to 1.
    """

    at: dt.datetime
    pulls: int
    p_higher: float
    finding: Finding
    posterior: str
