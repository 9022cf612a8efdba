"""Pulls as a table, one line each, and the versions of one of them."""

from collections.abc import Sequence
from typing import Final

import pandas as pd
import streamlit as st

from app.marks import ENDING_WORDS, MODE_WORDS
from app.parts.pictures import cell_width
from app.style.numbers import load
from app.style.text import as_prose, as_text
from model.ingest.formula_guard import guarded
from model.records.campaign import Campaign
from model.records.pull import Bite, Ending, Pull
from model.store.facts import Written, differences
from model.store.revisions import Revision

WIDEST_NAME: Final = 100
"""Pixels of the pulls' names: beside it a phone shows whole how a pull of one bite went."""

_STOOD = {Ending.HELD, Ending.STOPPED}


def bite_words(bite: Bite, campaign: Campaign) -> str:
    """How one bite went: ``let go at 2.6 kN, on its side``."""
    at = "" if bite.load_kn is None else f" at {load(bite.load_kn, campaign)}"
    mode = "" if bite.mode is None else f", {MODE_WORDS[bite.mode]}"
    return f"{ENDING_WORDS[bite.ending]}{at}{mode}"


def course_words(pull: Pull, campaign: Campaign) -> str:
    """How a pull went, bite by bite."""
    return "; then ".join(bite_words(bite, campaign) for bite in pull.bites)


def rig_words(pull: Pull, campaign: Campaign) -> str:
    """Levels other than the baseline, and a scope other than the usual."""
    baselines = {treatment.name: treatment.baseline for treatment in campaign.treatments}
    changed = [level for name, level in pull.levels.items() if level != baselines.get(name)]
    is_usual = pull.scope in {None, campaign.usual_scope}
    return ", ".join([*changed, *([] if is_usual else [f"{pull.scope:g}:1"])])


def pull_table(pulls: Sequence[Pull], campaign: Campaign) -> pd.DataFrame:
    """One line a pull; what a phone shows first stands first.

    Guarded: the table can be downloaded, and what a user wrote must not run as a
    formula where it is opened.
    """
    found = pd.DataFrame(
        {
            "pull": [pull.id for pull in pulls],
            "how it went": [course_words(pull, campaign) for pull in pulls],
            "anchor": [pull.anchor for pull in pulls],
            "changed": [rig_words(pull, campaign) for pull in pulls],
            "seabed": [pull.seabed for pull in pulls],
            "site": [pull.site or "" for pull in pulls],
            "notes": [" · ".join(part for part in (pull.reason, pull.notes) if part)
                      for pull in pulls],
        }
    )  # fmt: skip
    return found.map(guarded)


def show_pull_table(pulls: Sequence[Pull], campaign: Campaign) -> None:
    """The table; it can be searched, sorted and downloaded."""
    table = pull_table(pulls, campaign)
    width = min(WIDEST_NAME, cell_width("pull", table["pull"]))
    st.dataframe(
        table,
        hide_index=True,
        width="stretch",
        key="pull table",
        column_config={"pull": st.column_config.Column(width=width)},
    )


def show_history(revisions: Sequence[Revision], campaign: Campaign) -> None:
    """Every version of one pull: when, by whom, why, and what it changed."""
    written = Written(load_unit=campaign.load_unit, length_unit=campaign.length_unit)
    lines = []
    for before, revision in zip([None, *revisions], revisions, strict=False):
        when = f"{revision.stored_at:%Y-%m-%d %H:%M} UTC"
        by = f" by {as_text(revision.who)}" if revision.who else ""
        why = f": {as_prose(revision.why)}" if revision.why else ""
        lines.append(f"{when}{by}, {_done(before, revision, written)}{why}")
    st.markdown("\n".join(f"1. {line}" for line in lines))


def _done(before: Revision | None, revision: Revision, written: Written) -> str:
    if revision.is_removed:
        return "taken out"
    if before is None:
        return f"stored from {as_text(revision.source)}"
    if before.is_removed and before.pull == revision.pull:
        return "put back"
    return f"corrected ({as_prose('; '.join(differences(before.pull, revision.pull, written)))})"
