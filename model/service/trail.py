"""How standing answers moved, pull by pull: fits at the end of each day, quick answers between.

Wanted are one point a pull, in the order of the campaign's days: at a day's end from a full
fit of all up to it, within the next day from that fit with the day's pulls weighed in. What
is wanted follows from the facts as they stand, so that a correction renews what comes after it.
"""

from dataclasses import dataclass

from model.records.question import Question
from model.service.fingerprints import days
from model.store.entries import TrailPoint
from model.store.store import Store


@dataclass(frozen=True, kw_only=True)
class Trail:
    """How one standing question's answer moved.

    Parameters
    ----------
    points : tuple of TrailPoint
        One for each pull that has been worked out, in order; a full answer before a quick one.
    not_yet : int
        Pulls whose point is still to come; the first day has one point, at its end.
    """

    points: tuple[TrailPoint, ...]
    not_yet: int


def trail_of(store: Store, question: Question) -> Trail:
    """How a standing question's answer moved, as far as it is worked out."""
    facts = store.facts()
    wanted = days(facts.campaign, facts.pulls)
    order = [one for day in wanted for one in day.fingerprints]
    if question not in facts.campaign.questions:
        return Trail(points=(), not_yet=0)
    rank = {"refused": 0, "withheld": 1, "quick": 2, "full": 3}
    best: dict[str, TrailPoint] = {}
    for point in store.trail(order, [question]):
        held = best.get(point.fingerprint)
        if held is None or rank[held.state] <= rank[point.state]:
            best[point.fingerprint] = point
    first = wanted[0].fingerprints[:-1] if wanted else ()
    due = [one for one in order if one not in first]
    return Trail(
        points=tuple(best[one] for one in order if one in best),
        not_yet=sum(one not in best for one in due),
    )
