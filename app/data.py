"""What views know of the store: the only place in app that pages get data through.

Every function reads the store that ``KEDGEWISE_STORE`` names (else the only
one there is). Draws and answers are kept in memory per state of the store, so
that a page is drawn again without anything being worked out again.
"""

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import streamlit as st

from app.doors.rights import Rights, require, rights
from app.shown import Look, Moved, Overview
from model.ingest.log_rows import Row
from model.ingest.log_rows import correctable as log_columns
from model.posterior.posterior import Posterior
from model.questions.answer import Answer
from model.records.answer import AnswerSummary, NotYet
from model.records.pull import Pull
from model.records.question import Question
from model.service import answers, corrections, day_plans, imports, rehearsals, stores
from model.service import modes as service_modes
from model.service import next_pulls as service_next
from model.service import trail as trails
from model.service.corrections import Correction
from model.service.day_plans import Day
from model.service.imports import Imported
from model.service.modes import Modes
from model.service.moved import Moved as Move
from model.service.moved import storing
from model.service.next_pulls import NextPulls
from model.service.planning_start import Wish
from model.service.rehearsals import Rehearsal
from model.service.worker_state import WorkerState, worker_state
from model.store.revisions import Revision
from model.store.store import Store, holds_store

if TYPE_CHECKING:
    from model.service.checks import Checked  # brings the statistics library

RUN_A_FIT: Final = "Run `kedgewise fit`."
AT_IT: Final = "The fitting worker is at it; this page renews itself."
"""What to do where nothing was fitted yet, by hand and where a worker runs."""

POSTERIORS_KEPT: Final = 2
"""Posteriors in memory: the newest, and the one before while a page still shows it."""
ANSWERS_KEPT: Final = 200
"""Answers in memory, about 100 kB each."""
MODES_KEPT: Final = 8
"""How it sets, in memory: with and without what was never pulled, at a few states."""
CHECKS_KEPT: Final = 2
"""What the checks found, in memory, some 100 kB each."""
NEXT_KEPT: Final = 4
"""Rankings in memory, with the draws behind each some ten MB."""
REHEARSED: Final = 40
"""Campaigns that a page rehearses: enough for chances to about eight points."""
DAYS: Final = 2
"""Days that it looks ahead."""
UPLOADS_KEPT: Final = 4
"""Logs looked at, in memory: a page is drawn again at every letter of a reason."""


class _RememberingStore(Store):
    """A store that reads a posterior's draws once, and not again for every card."""

    def posterior(self, identity: str) -> Posterior:
        return _posterior(str(self.folder), identity)


@st.cache_resource(max_entries=POSTERIORS_KEPT, show_spinner=False)
def _posterior(folder: str, identity: str) -> Posterior:
    # By its identity: the newest may be another one by now, and would stand under this name.
    return Store.open(Path(folder)).posterior(identity)


@st.cache_data(max_entries=ANSWERS_KEPT, show_spinner=False)
def _answer(folder: str, state: str, question: str) -> Answer | NotYet:
    del state  # part of the key: new facts, another answer
    return answers.ask(_RememberingStore(Path(folder)), Question.model_validate_json(question))


@st.cache_data(max_entries=MODES_KEPT, show_spinner=False)
def _modes(folder: str, state: str, *, has_untried: bool) -> Modes | NotYet:
    del state  # part of the key: new facts, other chances
    return service_modes.modes(_RememberingStore(Path(folder)), has_untried=has_untried)


@st.cache_data(max_entries=CHECKS_KEPT, show_spinner=False)
def _checks(folder: str, state: str, refits: int) -> "Checked | NotYet":
    from model.service.checks import check

    del state, refits  # part of the key: new facts, or a fit without a pull, other findings
    return check(_RememberingStore(Path(folder)))


# As a resource: what is kept holds draws, which a copy for each look would double.
@st.cache_resource(max_entries=NEXT_KEPT, show_spinner=False)
def _next_pulls(folder: str, state: str, wish: Wish, hours: float) -> NextPulls | NotYet:
    del state  # part of the key: new facts, another ranking
    store = _RememberingStore(Path(folder))
    return service_next.next_pulls(store, wish, hours=hours, has_outlook=False)


@st.cache_data(max_entries=UPLOADS_KEPT, show_spinner=False)
def _upload(folder: str, state: str, name: str, content: bytes) -> Imported:
    del state  # part of the key: other facts, another outcome
    return imports.preview_upload(Store(Path(folder)), name, content)


def _folder() -> Path:
    require(Rights.LOG_AND_READ)
    return stores.resolve(None)


def _store() -> Store:
    """The store, for whoever may read it: looked at here too, since a page runs on its own."""
    return Store.open(_folder())


def _store_to_change() -> Store:
    require(Rights.EVERYTHING)
    return _remembering()


def _remembering() -> Store:
    return _RememberingStore(_store().folder)


def _state(store: Store) -> str:
    """A text that changes whenever an answer could."""
    parts = [
        str(store.newest_stored()),
        str(store.newest_attempt()),
        str(store.answer_count()),
        str(store.trail_count()),
        store.campaign().model_dump_json(),
        *(pull.model_dump_json() for pull in store.pulls()),
    ]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def news() -> str:
    """A text that changes whenever a page would show something else; cheap to ask for.

    The newest fit, that it failed, and facts: not that a fit began, nor how far it is.
    """
    folder = _folder()
    # Opening checks the whole file; a page that is shown was opened already.
    store = Store(folder) if holds_store(folder) else Store.open(folder)
    attempt = store.newest_attempt()
    failed = attempt if attempt is not None and attempt.state == "failed" else None
    return f"{store.mark()} {store.newest_stored()} {failed}"


def worker() -> WorkerState | None:
    """What the store's fitting worker is doing; None where none runs."""
    return worker_state(_folder())


def overview() -> Overview:
    """The campaign, how many pulls it has, and which posterior answers rest on.

    Raises
    ------
    KedgewiseError
        If there is no store, or it cannot be read.
    """
    seen = news()  # before what is shown: what comes in between is shown by the next look
    state = stores.state_of(_store())
    return Overview(
        news=seen,
        campaign=state.campaign,
        used_pulls=state.used_pulls,
        void_pulls=state.void_pulls,
        posterior=None if state.posterior is None else state.posterior.summary,
        failed_reasons=state.failed_reasons,
        has_changed=state.has_changed,
    )


def pulls() -> tuple[Pull, ...]:
    """Every pull of the store, void ones too, in the order in which they were made."""
    return _store().pulls()


def ask(question: Question) -> Answer | NotYet:
    """The answer to a question, or why there is none yet; see :func:`answers.ask`."""
    store = _store()
    return _as_it_is(_answer(str(store.folder), _state(store), question.model_dump_json()))


def modes(*, has_untried: bool = False) -> Modes | NotYet:
    """How set-ups set and each bite did, or why not yet; see :func:`service_modes.modes`."""
    store = _store()
    return _as_it_is(_modes(str(store.folder), _state(store), has_untried=has_untried))


def checks() -> "Checked | NotYet":
    """Whether the newest fit can be trusted; see :func:`model.service.checks.check`.

    Worked out once after each fit, in some seconds, and kept beside the store.
    """
    from model.service.checks import refit_count

    store = _store()
    return _as_it_is(_checks(str(store.folder), _state(store), refit_count(store)))


def next_pulls(wish: Wish, hours: float) -> NextPulls | NotYet:
    """What could be pulled next, ranked, without the outlook; see :mod:`model.service.next_pulls`.

    Nothing is rehearsed: that takes a button.
    """
    store = _store()
    return _as_it_is(_next_pulls(str(store.folder), _state(store), wish, hours))


def plan_day(wish: Wish, hours: float) -> Day | NotYet:
    """A day planned; the seed of its order is kept beside the store."""
    require(Rights.EVERYTHING)
    return _as_it_is(day_plans.plan(_remembering(), wish, hours=hours))


def rehearse(wish: Wish, hours: float, most_pulls: int) -> Rehearsal | NotYet:
    """The main question rehearsed by each way to choose; some seconds for each."""
    require(Rights.EVERYTHING)
    found = rehearsals.rehearse_question(
        _remembering(),
        wish,
        hours=hours,
        n_campaign=REHEARSED,
        most_pulls=most_pulls,
        has_effects=False,
    )
    return _as_it_is(found)


def _as_it_is[Found](found: Found | NotYet) -> Found | NotYet:
    """Nobody is told to run a fit that the worker runs; not kept, as workers come and go."""
    if isinstance(found, NotYet) and found.hint == RUN_A_FIT and worker() is not None:
        return found.model_copy(update={"hint": AT_IT})
    return found


def moved(question: Question) -> Moved:
    """How the answer to a comparison moved, as pulls came in.

    Answers kept at the time, and for a standing question the points of its trail, which
    are of the pulls as they stand now: they take the place of the others.
    """
    store = _store()
    campaign = store.campaign()
    found: dict[int, Look] = {}
    for kept in store.stored_answers(lambda one: answers.asks_the_same(one, question, campaign)):
        found[kept.summary.posterior.pulls] = _look(kept.summary, kept.answered_at)
    trail = trails.trail_of(store, question)
    for point in trail.points:
        if point.summary is not None and point.answered_at is not None:
            is_better = point.state == "full" or point.pulls not in found
            if is_better:
                look = _look(point.summary, point.answered_at, last_pull=point.last_pull)
                found[point.pulls] = look
    return Moved(
        looks=tuple(found[pulls] for pulls in sorted(found)),
        not_yet=trail.not_yet,
        withheld=sum(point.summary is None for point in trail.points),
        has_worker=worker() is not None,
    )


def _look(summary: AnswerSummary, at: dt.datetime, *, last_pull: str = "") -> Look:
    return Look(
        at=at,
        pulls=summary.posterior.pulls,
        p_higher=summary.p_higher,
        finding=summary.finding,
        posterior=summary.posterior.id,
        state=summary.posterior.state,
        last_pull=last_pull,
    )


# --- pulls, and changes to them -----------------------------------------------------------


def may_change() -> bool:
    """Whether whoever looks may do more than log and read."""
    return rights() is Rights.EVERYTHING


def history(name: str) -> tuple[Revision, ...]:
    """Every version of one pull, oldest first."""
    return _store().revisions(name)


def removed() -> tuple[Revision, ...]:
    """Pulls that were taken out."""
    return _store().removed_pulls()


def correctable(names: Sequence[str]) -> tuple[str, ...]:
    """Columns whose cells may be changed in some pulls."""
    store = _store()
    return log_columns(store.campaign(), corrections.log_rows(store, names))


def preview_cells(names: Sequence[str], cells: Mapping[str, str], *, bite: int = 1) -> Correction:
    """What some cells would change in some pulls; see :func:`corrections.preview_cells`."""
    return corrections.preview_cells(_store(), names, cells, bite=bite)


def correct(found: Correction, seen: Mapping[str, int], why: str, who: str) -> tuple[Move, ...]:
    """Store a correction, if its pulls are still what was seen; gives what it moved.

    See :func:`corrections.correct`.
    """
    store, reason = _store_to_change(), corrections.reason(why, who)
    return storing(store, lambda: corrections.correct(store, found, reason, seen=seen))[1]


def remove(names: Sequence[str], why: str, who: str) -> tuple[Move, ...]:
    """Take pulls out; gives what that moved."""
    store, reason = _store_to_change(), corrections.reason(why, who)
    return storing(store, lambda: store.remove_pulls(names, reason))[1]


def put_back(names: Sequence[str], why: str, who: str) -> tuple[Move, ...]:
    """Put pulls back that were taken out; gives what that moved."""
    store, reason = _store_to_change(), corrections.reason(why, who)
    return storing(store, lambda: store.put_back_pulls(names, reason))[1]


def add_row(row: Row) -> tuple[str, tuple[Move, ...]]:
    """Store one new pull; gives its identity, and what it moved."""
    source = corrections.BY_HAND if may_change() else corrections.ON_A_DEVICE
    store = _remembering()
    return storing(store, lambda: corrections.add_row(store, row, source=source))


def preview_upload(name: str, content: bytes) -> Imported:
    """What importing a log would do; nothing is stored."""
    store = _store_to_change()
    return _upload(str(store.folder), _state(store), name, content)


def import_upload(
    name: str, content: bytes, why: str, who: str
) -> tuple[Imported, tuple[Move, ...]]:
    """Store a log, with corrections where there is a reason for them; and what it moved."""
    reason = corrections.reason(why, who) if why else None
    store = _store_to_change()
    return storing(store, lambda: imports.import_upload(store, name, content, reason=reason))


def login_name() -> str:
    """Who is at this machine; empty where the system does not know."""
    return corrections.login_name()
