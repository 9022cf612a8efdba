"""What to pull next, a day and a rehearsal as the objects that ``--json`` prints."""

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

from app.answer_json import Json, plain
from app.day_words import day_rows
from app.planning_words import hours_of, lowest_worth, n_unknown, true_effect
from model.service.day_plans import Day
from model.service.next_pulls import NextPulls, checkpoints
from model.service.planning_start import Begun
from model.service.rehearsals import Rehearsal

if TYPE_CHECKING:
    from model.planning.candidates import Candidate
    from model.planning.outlook import Outlook
    from model.planning.ranking import Ranked
    from model.planning.rehearsed import Rehearsed


def next_json(found: NextPulls, most: int) -> Json:
    """The best pairs and singles, each with what it tells and why, and where they may lead."""
    return {
        **_begun_json(found.begun),
        "doubt_nats": found.ranking.doubt_nats,
        "pulls_a_day": found.pulls_a_day,
        "pairs": ranked_json(found.ranking.pairs[:most]),
        "singles": ranked_json(found.ranking.singles[:most]),
        "outlook": None if found.outlook is None else _outlook_json(found.outlook),
    }


def ranked_json(ranked: "Sequence[Ranked]") -> list[Json]:
    """Candidates or pairs in their order."""
    return [
        {
            "first": _candidate_json(one.first),
            "second": None if one.second is None else _candidate_json(one.second),
            "information_nats": one.information_nats,
            "information_nats_per_pull": one.information_nats_per_pull,
            "information_nats_per_hour": one.information_nats_per_hour,
            "share_of_doubt": one.share,
            "minutes": one.minutes,
            "p_held": one.p_held,
            "is_untried": one.is_untried,
            "reason": one.reason,
        }
        for one in ranked
    ]


def _candidate_json(one: "Candidate") -> Json:
    levels = dict(one.levels)
    return {"anchor": one.anchor, "levels": levels, "scope": one.scope, "seabed": one.seabed}


def _begun_json(begun: Begun) -> Json:
    start = begun.start
    return {
        "questions": [
            {
                "name": one.question.name,
                "weight": one.weight,
                "finding": _finding(begun, one.question.name),
            }
            for one in start.asked
        ],
        "posterior": None if begun.posterior is None else plain(begun.posterior),
        "waiting": begun.waiting or None,
        "boat": start.boat,
        "ladder": start.space.ladder.name,
        "has_camera": start.space.has_camera,
    }


def _finding(begun: Begun, name: str) -> str | None:
    found = begun.standing.get(name)
    return None if found is None else str(found)


def _outlook_json(found: "Outlook") -> Json:
    return {
        **rehearsed_json(found.rehearsed),
        "p_settled_if_all_were_known": found.ceiling,
        "p_held": found.p_held,
        "why_stop": found.why_stop or None,
        "what_would": found.what_would or None,
    }


def rehearsed_json(found: "Rehearsed") -> Json:
    """Campaigns rehearsed by one policy: when they settle, how they end, how many wrongly."""
    half, worth = found.pulls_to_settle(), lowest_worth(found)
    return {
        "policy": found.policy,
        "campaigns": found.n_campaign,
        "most_pulls": found.most_pulls,
        "pulls_a_day": found.pulls_a_day,
        "p_settled": [
            {"pulls": pulls, "p": found.settled_by(pulls)}
            for pulls in checkpoints(found.most_pulls, found.pulls_a_day)
        ],
        "half_settled_after": half if isfinite(half) else None,
        "ends": {str(finding): share for finding, share in found.ends.items()},
        "settled": int(found.is_settled.sum()),
        "wrong": int(found.is_wrong.sum()),
        "wrong_share": found.wrong_share if found.is_settled.any() else None,
        "not_known": n_unknown(found),
        "lowest_effective_draws": worth if isfinite(worth) else None,
        "mean_hours": hours_of(found),
    }


def day_json(day: Day) -> Json:
    """A day's pulls in their order, and what they may settle."""
    plan = day.plan
    planned = [
        {
            "block": row.block,
            "number": row.number,
            **_candidate_json(pull.candidate),
            "begins_min": pull.begins_min,
            "minutes": pull.minutes,
            "patch": pull.patch,
            "changed": list(row.changed),
        }
        for row, pull in zip(day_rows(day), plan.pulls, strict=True)
    ]
    return {
        **_begun_json(day.begun),
        "pulls": planned,
        "minutes": plan.minutes,
        "stagger_gain": plan.stagger_gain,
        "seed": plan.seed,
        "rehearsed": None if day.rehearsed is None else rehearsed_json(day.rehearsed),
    }


def rehearsal_json(found: Rehearsal, seed: int) -> Json:
    """Policies side by side, true effects one by one."""
    return {
        **_begun_json(found.begun),
        "seed": seed,
        "by_policy": [rehearsed_json(one) for one in found.by_policy],
        "by_effect": [
            {
                "true_effect": {
                    "kind": one.question.band.kind,
                    "value": true_effect(effect, one.question.band),
                },
                **rehearsed_json(one),
            }
            for effect, one in found.by_effect
        ],
        "why_stop": found.outlook.why_stop or None,
        "what_would": found.outlook.what_would or None,
    }
