"""From a store and what a user asks to where planning begins."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from model.base.errors import InputError, UnknownName
from model.ingest.known_names import find_name
from model.ingest.setup_text import parse_setup
from model.records.answer import AnswerSummary, Finding, NotYet, PosteriorSummary
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question, SetUp
from model.service.answers import standing_at, without_posterior
from model.service.evidence import Evidence, anew_where_gone, unknown_to
from model.service.questions import find
from model.store.revisions import Facts
from model.store.store import Store

if TYPE_CHECKING:
    from model.planning.candidates import Candidate, RuledOut
    from model.planning.start import Start

SEEN_MOSTLY: Final = 0.5
"""From this share of pulls whose mode was noted on, the next ones are taken to be seen as well."""

SCOPES: Final = (1.0, 100.0)
"""Least and most scope, as a pull's."""


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is to be planned for, as a user gives it.

    Parameters
    ----------
    questions : tuple of str
        Names of standing questions, or treatments in general; empty for the main question.
    weights : tuple of float
        One a question; empty for equal ones.
    without : tuple of str
        What is not aboard: ``anchor=S6``, ``leader=wire 2 m``, ``scope=3``, ``seabed=soft mud``.
    scopes : tuple of float
        More scopes that can be had.
    has_camera : bool or None
        Whether the mode will be seen; None for what the pulls so far were like.
    today : str or None
        The outing that goes on; None for a new day.
    """

    questions: tuple[str, ...] = ()
    weights: tuple[float, ...] = ()
    without: tuple[str, ...] = ()
    scopes: tuple[float, ...] = ()
    has_camera: bool | None = None
    today: str | None = None


@dataclass(frozen=True, kw_only=True)
class Begun:
    """Where planning begins, and what is known of it.

    Parameters
    ----------
    posterior : PosteriorSummary or None
        None where there is no pull yet, and the priors are all that is believed.
    tried : frozenset of Candidate
        Set-ups that were pulled, voids included.
    last : Candidate or None
        What is on deck: the last pull of the outing that goes on.
    patches : dict of str to int
        Pulls made today by seabed, each in a furrow of its own.
    standing : dict of str to Finding
        How each question stands, where it has an answer.
    waiting : str
        Why something that is stored is not in this; empty where all is.
    """

    start: "Start"
    posterior: PosteriorSummary | None
    tried: "frozenset[Candidate]"
    last: "Candidate | None"
    patches: dict[str, int]
    standing: dict[str, Finding]
    waiting: str = ""

    @property
    def main_standing(self) -> Finding:
        """How the main question stands."""
        return self.standing.get(self.start.main.question.name, Finding.NOT_SETTLED)


def begin(store: Store, wish: Wish) -> Begun | NotYet:
    """Read the newest draws, with all pulls weighed in where they can be, and what is wished.

    Before the first pull planning begins from the priors.

    Raises
    ------
    UnknownName, InputError
        If a name is not the campaign's, nothing is left to pull, or a question cannot be planned
        for.
    FitFailed, StoreError, PosteriorInvalid
        As for answers.
    """
    return anew_where_gone(lambda: _begin(store, wish))


def asked_for(campaign: Campaign, wish: Wish) -> tuple[tuple[Question, float], ...]:
    """The questions and their weights, which add up to 1.

    Raises
    ------
    UnknownName, InputError
    """
    names = wish.questions or _main(campaign)
    twice = [name for name in dict.fromkeys(names) if names.count(name) > 1]
    if twice:
        raise InputError(f"{twice[0]!r} is asked twice", hint="Name each question once.")
    questions = [one for name in names for one in find(campaign, name)]
    weights = wish.weights or (1.0,) * len(names)
    if len(weights) != len(names):
        raise InputError(
            f"{len(names)} questions and {len(weights)} weights",
            hint="Give one weight for each question, in their order.",
        )
    by_name = dict(zip(names, weights, strict=True))
    if not all(0 < weight < float("inf") for weight in weights):
        raise InputError("a weight must be above 0", hint="Leave a question out instead.")
    of_each = [by_name[name] for name in names for _ in find(campaign, name)]
    return tuple(
        (one, weight / sum(of_each)) for one, weight in zip(questions, of_each, strict=True)
    )


def _main(campaign: Campaign) -> tuple[str, ...]:
    if campaign.main_question is not None:
        return (campaign.main_question,)
    if not campaign.questions:
        raise InputError(
            "the campaign has no standing question to plan for",
            hint="Name a treatment, as `kedgewise next leader`, or add a question to the campaign.",
        )
    return (campaign.questions[0].name,)


def ruled_out(campaign: Campaign, without: Sequence[str]) -> "RuledOut":
    """What is not aboard, from what was typed.

    Raises
    ------
    UnknownName, InputError
    """
    from model.planning.candidates import RuledOut

    found = RuledOut()
    for text in without:
        key, _, value = (part.strip() for part in text.partition("="))
        if key == "seabed":
            name = find_name(value, [seabed.name for seabed in campaign.seabeds])
            if name is None:
                known = ", ".join(seabed.name for seabed in campaign.seabeds)
                raise UnknownName(f"no seabed is called {value!r}", hint=f"Known: {known}.")
            found = replace(found, seabeds=found.seabeds | {name})
            continue
        setup = parse_setup(text, campaign)
        found = replace(
            found,
            anchors=found.anchors | ({setup.anchor} if setup.anchor else set()),
            levels=found.levels | set(setup.levels.items()),
            scopes=found.scopes | ({setup.scope} if setup.scope else set()),
        )
    return found


def _begin(store: Store, wish: Wish) -> Begun | NotYet:
    facts, stored = store.facts(), store.newest_stored()
    asked = asked_for(facts.campaign, wish)
    if stored is None:
        return _before_the_fit(store, facts, wish, asked)
    evidence = Evidence(store, stored, facts)
    basis = evidence.newest
    unknown = [name for one, _ in asked for name in unknown_to(basis.posterior.campaign, one)]
    if unknown:
        reason = f"the newest fit does not know {', '.join(dict.fromkeys(unknown))}"
        return NotYet(question=asked[0][0].name, reason=reason, hint="Run `kedgewise fit`.")
    from model.planning.start import start_of_posterior
    from model.questions.settling import look_finding

    known = {
        one.question.name: one.outcome
        for one in standing_at(store, stored, facts)
        if isinstance(one.outcome, AnswerSummary)
    }
    campaign = basis.posterior.campaign
    start = start_of_posterior(
        basis.posterior,
        basis.pulls,
        asked,
        _candidates(campaign, wish, asked),
        has_camera=_has_camera(wish, basis.pulls),
        today=_today(campaign, wish),
        # A quick answer is no look: it must not be the first of the two that a finding needs.
        last_looks={
            name: look_finding(one) for name, one in known.items() if one.posterior.state == "full"
        },
    )
    return _begun(start, basis.posterior.summary, basis.pulls, wish, known, basis.waiting)


def _before_the_fit(
    store: Store, facts: Facts, wish: Wish, asked: Sequence[tuple[Question, float]]
) -> Begun | NotYet:
    if any(not pull.is_void for pull in facts.pulls):
        return without_posterior(store, asked[0][0].name)
    from model.planning.start import start_of_priors

    _today(facts.campaign, wish)
    start = start_of_priors(
        facts.campaign,
        asked,
        _candidates(facts.campaign, wish, asked),
        has_camera=_has_camera(wish, facts.pulls),
    )
    return _begun(start, None, facts.pulls, wish, {}, "")


def _candidates(
    campaign: Campaign, wish: Wish, asked: Sequence[tuple[Question, float]]
) -> "tuple[Candidate, ...]":
    from model.planning.candidates import candidates

    for scope in wish.scopes:
        if not SCOPES[0] <= scope <= SCOPES[1]:
            hint = f"Rode length over depth plus bow height: {SCOPES[0]:g} to {SCOPES[1]:g}."
            raise InputError(f"a scope of {scope:g}", hint=hint)
    return candidates(
        campaign,
        [one for one, _ in asked],
        ruled_out=ruled_out(campaign, wish.without),
        scopes=wish.scopes,
    )


def _has_camera(wish: Wish, pulls: Sequence[Pull]) -> bool:
    if wish.has_camera is not None:
        return wish.has_camera
    bites = [bite for pull in pulls if not pull.is_void for bite in pull.bites]
    seen = sum(bite.mode is not None for bite in bites)
    return not bites or seen >= SEEN_MOSTLY * len(bites)


def _today(campaign: Campaign, wish: Wish) -> str | None:
    if wish.today is None:
        return None
    names = [outing.name for outing in campaign.outings]
    found = find_name(wish.today, names)
    if found is None:
        raise UnknownName(f"no outing is called {wish.today!r}", hint=f"Known: {', '.join(names)}.")
    return found


def _begun(
    start: "Start",
    posterior: PosteriorSummary | None,
    pulls: Sequence[Pull],
    wish: Wish,
    known: Mapping[str, AnswerSummary],
    waiting: str,
) -> Begun:
    campaign = start.campaign
    made = [(pull, _as_candidate(campaign, pull)) for pull in pulls]
    today = [both for both in made if wish.today and both[0].outing == _today(campaign, wish)]
    patches: dict[str, int] = {}
    for pull, _ in today:
        patches[pull.seabed] = patches.get(pull.seabed, 0) + 1
    return Begun(
        start=start,
        posterior=posterior,
        tried=frozenset(candidate for _, candidate in made),
        last=today[-1][1] if today else None,
        patches=patches,
        standing={name: one.finding for name, one in known.items()},
        waiting=waiting,
    )


def _as_candidate(campaign: Campaign, pull: Pull) -> "Candidate":
    """What was pulled as what could be: its scope the usual one where it is near enough."""
    from model.planning.candidates import Candidate
    from model.questions.sides import is_at_scope

    filled = campaign.filled(SetUp(anchor=pull.anchor, levels=pull.levels, scope=pull.scope))
    is_usual = is_at_scope(campaign, SetUp(anchor=pull.anchor), pull)
    return Candidate(
        anchor=pull.anchor,
        levels=tuple((one.name, filled.levels[one.name]) for one in campaign.treatments),
        scope=campaign.usual_scope if is_usual else filled.scope or campaign.usual_scope,
        seabed=pull.seabed,
    )
