"""The head of every page: whose pulls these are, and what the answers rest on."""

from typing import Final

import streamlit as st

from app.shown import Overview
from app.style.numbers import counted
from app.style.text import as_text, short_id

HOW_TO_FIT: Final = "run `kedgewise fit`"
RESTS_ON_BEFORE: Final = "What is shown rests on the fit before it."


def posterior_words(found: Overview) -> str:
    """Which posterior answers rest on, and how many pulls wait for the next."""
    posterior = found.posterior
    if posterior is None:
        return f"no fit yet: {HOW_TO_FIT}"
    waiting = found.used_pulls - posterior.pulls
    since = f" · {counted(waiting, 'pull')} since: in answers marked quick; else {HOW_TO_FIT}"
    waits = since if waiting > 0 else ""
    if found.has_changed:
        waits = f" · the campaign, or a pull, has changed since: {HOW_TO_FIT}"
    return (
        f"answers rest on {counted(posterior.pulls, 'pull')} ({posterior.state} fit "
        f"`{short_id(posterior.id)}`, check {posterior.fit_check}){waits}"
    )


def show_header(found: Overview) -> None:
    """Campaign, badge when its data are invented, pulls, posterior, a fit that failed."""
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.markdown(f"**{as_text(found.campaign.name)}**", width="content")
        if found.campaign.is_invented:
            st.badge("invented data", color="violet")
    void = f" and {found.void_pulls} void" if found.void_pulls else ""
    st.caption(f"{counted(found.used_pulls, 'pull')}{void} · {posterior_words(found)}")
    if found.failed_reasons:
        reasons = as_text("; ".join(found.failed_reasons))
        before = "Nothing was fitted before it." if found.posterior is None else RESTS_ON_BEFORE
        st.warning(
            f"The newest fit failed its check ({reasons}). {before}", icon=":material/warning:"
        )
