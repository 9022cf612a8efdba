"""The table of the lost camera, from the kept results alone.

How far the stated chance to set upright is from the true one where the camera is
lost in what digs in: with the term for what was not seen, and with that term
removed. Nothing but the camera tells the mode of the anchor that outholds the boat.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from model.calibration.files import Rows
from model.calibration.limits import Mean, Share, clustered_share, mean_over_campaigns
from model.calibration.lost_camera_campaign import ANCHOR_MASSES_KG, OUT_OF_REACH
from model.calibration.scenario import TablePlan
from model.calibration.seen_result import Chance, SeenResult, SetUpChance

LEVEL: Final = 0.99
"""Of each mean's limits. Those of the anchor out of reach give the verdict."""

COVER_LEVEL: Final = 0.95


@dataclass(frozen=True, kw_only=True)
class LostCameraRow:
    """One anchor with the term or without it.

    Parameters
    ----------
    has_term : bool
        Whether a camera that showed nothing counts as evidence.
    error : Mean
        Stated minus true chance of upright.
    cover : Share
        90 % intervals that hold the truth.
    """

    anchor: str
    has_term: bool
    error: Mean
    cover: Share


def lost_camera_rows(results: Sequence[SeenResult]) -> tuple[LostCameraRow, ...]:
    """Every anchor with the term and without, over the campaigns whose both fits passed."""
    both = [result for result in results if result.chances and not result.refusal_without]
    if len(both) < 2:
        return ()
    return tuple(
        _row(anchor, has_term, both) for anchor in ANCHOR_MASSES_KG for has_term in (True, False)
    )


def _row(anchor: str, has_term: bool, results: Sequence[SeenResult]) -> LostCameraRow:
    pairs = [
        (_said(one, has_term), one.truth)
        for result in results
        for one in result.chances
        if one.set_up == anchor
    ]
    hits = [said.lower90 <= truth <= said.upper90 for said, truth in pairs]
    cover = clustered_share(hits, range(len(hits)), level=COVER_LEVEL)
    if cover is None:
        raise LookupError(f"no results of {anchor}")
    error = mean_over_campaigns([said.mean - truth for said, truth in pairs], level=LEVEL)
    return LostCameraRow(anchor=anchor, has_term=has_term, error=error, cover=cover)


def _said(one: SetUpChance, has_term: bool) -> Chance:
    said = one.known if has_term else one.without
    if said is None:
        raise LookupError(f"no second fit of {one.set_up}")
    return said


HEADING: Final = (
    "| anchor | a camera that shows nothing | campaigns | stated minus true chance of upright | "
    "90 % intervals that hold it |\n|---|---|---:|---:|---:|\n"
)


def table_text(rows: Sequence[LostCameraRow], results: Sequence[SeenResult], planned: int) -> str:
    """The table as Markdown, its verdict first."""
    refused = sum(bool(result.refusal) for result in results)
    twice = sum(bool(result.refusal_without) for result in results)
    return (
        f"{len(results)} of {planned} planned campaigns; {refused} fits refused and {twice} second "
        f"fits (such campaigns are left out of all rows).\n{_verdict(rows)}\n"
        f"Limits of means: {LEVEL:.0%} by Student's t, each campaign counting once; of shares: "
        f"exact binomial (Clopper-Pearson), {COVER_LEVEL:.0%}.\n\n"
        + HEADING
        + "".join(_line(row) for row in rows)
    )


def _verdict(rows: Sequence[LostCameraRow]) -> str:
    of_verdict = {row.has_term: row.error for row in rows if row.anchor == OUT_OF_REACH}
    if not of_verdict:
        return "No results yet: no verdict."
    with_term, without = of_verdict[True], of_verdict[False]
    found = "no bias is found" if with_term.lower <= 0 <= with_term.upper else "it is BIASED"
    removed = (
        "no bias is found either: the term is NOT SHOWN to be needed"
        if without.lower <= 0 <= without.upper
        else "it is biased"
    )
    return (
        f"Verdict on {OUT_OF_REACH}, out of the boat's reach: with the term {found}; without it "
        f"{removed}. A bias of {(with_term.upper - with_term.lower) / 2:.3f} would have been found."
    )


def _line(row: LostCameraRow) -> str:
    error = row.error
    cells = [
        row.anchor,
        "counts as evidence" if row.has_term else "counts as nothing",
        str(error.campaigns),
        f"{error.value:+.3f} ({error.lower:+.3f} to {error.upper:+.3f})",
        str(row.cover),
    ]
    return "| " + " | ".join(cells) + " |\n"


def rows_and_text(results: Sequence[SeenResult], plan: TablePlan) -> tuple[Rows, str]:
    """The rows, and the table as it is read, of the results that are there."""
    rows = lost_camera_rows(results)
    return rows, table_text(rows, results, len(plan.scenarios))
