"""What came of rehearsed campaigns: how many are settled, when, and how many wrongly."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.planning.candidates import Candidate
from model.planning.settled_rule import FINDINGS, NONE
from model.records.answer import Finding
from model.records.question import Question

Array = NDArray[np.float64]
Places = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Rehearsed:
    """Campaigns that were rehearsed by one policy.

    Parameters
    ----------
    effect, region : (campaign,) array
        The true effect, on the scale of the band's ends, and the region it lies in.
    settled_at : (campaign,) int
        Pulls after which it was settled; 0 where it was not.
    finding : (campaign,) int
        Region it was settled for; -1 where it was not.
    unknown_at : (campaign,) int
        Pulls after which its draws told no more; 0 where they did to the end.
    minutes : (campaign,) array
        What its pulls and change-overs took.
    lowest_worth : (campaign,) array
        Least effective draws behind any of its looks.
    n_moves : (campaign,) int
        How often its draws were drawn anew.
    pulled, seen : (campaign, pull) int
        Candidate and outcome of each pull; -1 beyond its last.
    """

    question: Question
    policy: str
    candidates: tuple[Candidate, ...]
    most_pulls: int
    pulls_a_day: int
    effect: Array
    region: Places
    settled_at: Places
    finding: Places
    unknown_at: Places
    minutes: Array
    lowest_worth: Array
    n_moves: Places
    pulled: Places
    seen: Places

    @classmethod
    def joined(cls, parts: "Sequence[Rehearsed]") -> "Rehearsed":
        """Parts of one rehearsal, one after the other."""
        arrays = [
            one.name for one in fields(cls) if isinstance(getattr(parts[0], one.name), np.ndarray)
        ]
        together: dict[str, Any] = {
            name: np.concatenate([getattr(part, name) for part in parts]) for name in arrays
        }
        return replace(parts[0], **together)

    @property
    def n_campaign(self) -> int:
        """How many were rehearsed."""
        return int(self.effect.size)

    @property
    def is_settled(self) -> NDArray[np.bool_]:
        """Which were settled."""
        found: NDArray[np.bool_] = self.finding != NONE
        return found

    @property
    def is_wrong(self) -> NDArray[np.bool_]:
        """Which were settled for a region in which the truth does not lie."""
        found: NDArray[np.bool_] = self.is_settled & (self.finding != self.region)
        return found

    def settled_by(self, pulls: int) -> float:
        """Chance to be settled after so many pulls or fewer."""
        return float(np.mean(self.is_settled & (self.settled_at <= pulls)))

    @property
    def wrong_share(self) -> float:
        """Of those settled, how many wrongly; 0 where none was settled."""
        settled = int(self.is_settled.sum())
        return float(self.is_wrong.sum() / settled) if settled else 0.0

    @property
    def ends(self) -> dict[Finding, float]:
        """Chance of each end state."""
        return {
            finding: float(np.mean(self.finding == region)) for finding, region in FINDINGS.items()
        }

    def pulls_to_settle(self, share: float = 0.5) -> float:
        """Pulls after which this share of all is settled; infinite where it never is."""
        pulls = np.where(self.is_settled, self.settled_at.astype(float), np.inf)
        return float(np.quantile(pulls, share, method="inverted_cdf"))
