"""Cautions at the foot of every page: this work can hurt people."""

import streamlit as st

from app.cautions import ABOUT_RESULTS, ON_THE_WATER, SHORT


def _as_list(cautions: tuple[str, ...]) -> str:
    return "\n".join(f"- {' '.join(caution.split())}" for caution in cautions)


def show_cautions() -> None:
    """The short line, and behind it the full cautions with their published sources."""
    st.divider()
    st.markdown(f"⚠️ {SHORT}")
    with st.expander("Cautions in full"):
        st.markdown("### On the water", anchors=False)
        st.markdown(_as_list(ON_THE_WATER))
        st.markdown("### About results", anchors=False)
        st.markdown(_as_list(ABOUT_RESULTS))
