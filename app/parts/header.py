"""The head of every page: whose pulls these are, and what the answers rest on."""

from typing import Final

import streamlit as st

from app import data
from app.shown import Overview
from app.style.cards import guarded
from app.style.numbers import counted
from app.style.text import as_hint, as_prose, as_text, short_id
from model.service.worker_state import WorkerState

NO_WORKER: Final = "no worker runs"
HOW_TO_FIT: Final = "run `kedgewise fit`"
RESTS_ON_BEFORE: Final = "What is shown rests on the fit before it."
LOOK_EVERY_S: Final = 2.0
"""Time between looks at the worker and for news, s; as often as it tells how far it is."""


def posterior_words(found: Overview) -> str:
    """Which posterior answers rest on, and how many pulls wait for the next."""
    posterior = found.posterior
    if posterior is None:
        return "no fit yet"
    waiting = found.used_pulls - posterior.pulls
    since = f" · {counted(waiting, 'pull')} since, in answers marked quick"
    waits = since if waiting > 0 else ""
    if found.has_changed:
        waits = " · the campaign, or a pull, has changed since"
    return (
        f"answers rest on {counted(posterior.pulls, 'pull')} ({posterior.state} fit "
        f"`{short_id(posterior.id)}`, check {posterior.fit_check}){waits}"
    )


def worker_words(state: WorkerState | None, found: Overview) -> str:
    """What the fitting worker is doing; without one, what to do where something is unfitted."""
    if state is not None:
        return as_prose(state.words)
    posterior = found.posterior
    is_fitted = posterior is not None and posterior.pulls == found.used_pulls
    is_done = is_fitted and not found.has_changed
    return as_hint(NO_WORKER if is_done or not data.may_change() else f"{NO_WORKER}: {HOW_TO_FIT}")


def show_header(found: Overview) -> None:
    """Campaign, badge when its data are invented, pulls, posterior, worker, a fit that failed."""
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.markdown(f"**{as_text(found.campaign.name)}**", width="content")
        if found.campaign.is_invented:
            st.badge("invented data", color="violet")
    with st.container(key="standing"):  # by which the sheet knows it
        _show_standing(found)
    # Always there: what comes and goes above a folded part shuts it under a hand.
    place = st.container()
    if found.failed_reasons:
        reasons = as_text("; ".join(found.failed_reasons))
        before = "Nothing was fitted before it." if found.posterior is None else RESTS_ON_BEFORE
        place.warning(f"The newest fit failed ({reasons}). {before}", icon=":material/warning:")


@st.fragment(run_every=LOOK_EVERY_S)
def _show_standing(found: Overview) -> None:
    """Pulls, posterior and worker: looked at again by itself, and with news the whole page."""
    with guarded():  # run again by itself, this is no part of the page around it
        if data.news() != found.news:
            st.rerun()
        worker = data.worker()
        void = f" and {found.void_pulls} void" if found.void_pulls else ""
        pulls = f"{counted(found.used_pulls, 'pull')}{void}"
        st.caption(f"{pulls} · {posterior_words(found)} · {worker_words(worker, found)}")
