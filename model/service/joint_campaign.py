"""One campaign of two testers' ones: what only one of them lists is added, what differs is told."""

from collections import Counter
from collections.abc import Iterator, Sequence

from pydantic import ValidationError

from model.ingest.campaign_names import seen_as
from model.ingest.record_names import place_within, record_faults
from model.records.campaign import Campaign
from model.records.treatment import Treatment
from model.service.campaigns import LISTS, by_name, differences


def joint_campaign(ours: Campaign, theirs: Campaign) -> tuple[Campaign, tuple[str, ...]]:
    """Our campaign with what only theirs lists, or every conflict of the two in words.

    Lists are those of boats, outings, anchors, questions and so on, a treatment's levels, and
    the interactions. What both list, and otherwise, is a conflict; so is a name of theirs that
    nobody could tell from one of ours.

    Returns
    -------
    tuple
        The campaign, which is `ours` where there are conflicts, and those.
    """
    here, there = _with_inner_lists(ours, theirs)
    changed = [str(one) for one in differences(here, there) if one.what == "changed"]
    conflicts = (*changed, *_alike(ours, theirs))
    if conflicts:
        return ours, conflicts
    lists = {}
    for kind, field in LISTS.items():
        known = by_name(here, kind)
        new = [one for name, one in by_name(there, kind).items() if name not in known]
        lists[field] = (*known.values(), *new)
    try:
        joint = Campaign.model_validate({**dict(here), **lists})
    except ValidationError as error:
        return ours, tuple(one["msg"] for one in error.errors())
    # Of what was let in here before, nothing comes with theirs.
    mixed = tuple(dict.fromkeys(_name_faults(joint) - _name_faults(ours)))
    return (ours, mixed) if mixed else (joint, ())


def _with_inner_lists(ours: Campaign, theirs: Campaign) -> tuple[Campaign, Campaign]:
    """Both with the levels, the interactions and the main question that only one of them has."""
    treatments = {one.name: _fuller(one, theirs.treatments) for one in ours.treatments}
    known = [frozenset(pair) for pair in ours.interactions]
    new = [pair for pair in theirs.interactions if frozenset(pair) not in known]
    common = {"interactions": (*ours.interactions, *new)}
    here = {
        "treatments": tuple(treatments.values()),
        "main_question": ours.main_question or theirs.main_question,
    }
    there = {
        "treatments": tuple(
            # In our order, else it would count as changed.
            treatments[one.name] if _is_same(one, treatments.get(one.name)) else one
            for one in theirs.treatments
        ),
        "main_question": theirs.main_question or ours.main_question,
    }
    return ours.model_copy(update=common | here), theirs.model_copy(update=common | there)


def _is_same(one: Treatment, other: Treatment | None) -> bool:
    """Whether two treatments of one name are the same but for their levels."""
    return other is not None and one.model_copy(update={"levels": other.levels}) == other


def _fuller(one: Treatment, others: Sequence[Treatment]) -> Treatment:
    """A treatment with the levels that others of its name have."""
    more = [level for other in others if _is_same(one, other) for level in other.levels]
    return one.model_copy(update={"levels": tuple(dict.fromkeys([*one.levels, *more]))})


def _alike(ours: Campaign, theirs: Campaign) -> Iterator[str]:
    """Names that only they have, and that nobody could tell from one of ours."""
    for kind in LISTS:
        yield from _told_apart(kind, list(by_name(ours, kind)), list(by_name(theirs, kind)))
    given = {one.name: one.levels for one in theirs.treatments}
    for one in ours.treatments:
        yield from _told_apart(f"level of {one.name}", one.levels, given.get(one.name, ()))


def _told_apart(kind: str, ours: Sequence[str], theirs: Sequence[str]) -> Iterator[str]:
    known = {seen_as(name): name for name in ours}
    for name in theirs:
        if name not in ours and seen_as(name) in known:
            yield f"{kind} {known[seen_as(name)]!a} → {name!a}, which nobody could tell apart"


def _name_faults(campaign: Campaign) -> Counter[str]:
    """What no campaign file could say in names, and how often."""
    return Counter(fault.found for fault in record_faults(campaign, place_within("")))
