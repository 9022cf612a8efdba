"""The table of findings at fixed truths, on made-up results; each part of its verdict fails."""

import json

import numpy as np
import pytest

from model.calibration.findings_table import TruthRow, table_text, truth_rows, verdict
from model.planning.information import ABOVE, BELOW, INSIDE
from model.planning.settled_rule import NONE


def result(share_of_band, **counts):
    """A kept result with so many campaigns of each finding, of 200."""
    regions = {"lower": BELOW, "inside": INSIDE, "higher": ABOVE}
    finding = np.repeat([regions[name] for name in counts], list(counts.values()))
    left = 200 - finding.size
    return {
        "scenario": "made-up",
        "share_of_band": share_of_band,
        "finding": [*finding.tolist(), *[NONE] * left],
        "settled_at": [*[12] * finding.size, *[0] * left],
        "not_known": 3,
    }


def rows(*results):
    return tuple(TruthRow.of(one) for one in results)


def test_what_is_wrong_depends_on_where_the_truth_lies():
    none, half, edge, beyond = rows(
        result(0.0, lower=2, inside=50, higher=3),
        result(-0.5, lower=4, inside=40, higher=1),
        result(1.0, lower=1, inside=20, higher=30),
        result(1.5, lower=2, inside=10, higher=60),
    )
    assert (none.wrong, none.other_sign) == (5, 0)  # at no difference there is no side
    assert (half.wrong, half.other_sign) == (5, 1)
    assert (edge.wrong, edge.other_sign) == (None, 1)
    assert (beyond.wrong, beyond.other_sign) == (12, 2)
    assert none.median_pulls == 12


GOOD = (
    result(0.0, inside=60, higher=6),
    result(0.5, inside=30, higher=5, lower=1),
    result(1.5, higher=80, inside=12),
)


def test_truths_that_are_settled_as_they_should_be_pass():
    assert "OUTSIDE" not in verdict(rows(*GOOD))


@pytest.mark.parametrize(
    ("planted", "said"),
    [
        (result(0.0, inside=60, higher=7, lower=4), "at +0 (settled wrongly)"),
        (result(-0.5, lower=11), "at -0.5 (settled wrongly)"),
        (result(0.5, lower=3), "at +0.5 (on the other side)"),
        (result(-1.0, higher=3), "at -1 (on the other side)"),
    ],
)
def test_each_fault_is_found(planted, said):
    found = verdict(rows(*GOOD, planted))
    assert found == f"Verdict: OUTSIDE: made-up {said}."


def test_no_results_give_no_verdict():
    assert verdict(()) == "No results yet: no verdict."


def test_the_table_is_made_of_the_kept_files_alone(tmp_path):
    for place, one in enumerate(GOOD):
        (tmp_path / f"made-up-{place}.json").write_text(json.dumps(one), "utf-8")
    assert len(truth_rows(tmp_path, ["made-up", "another"])) == 3
    text = table_text(tmp_path, ["made-up"])
    assert "| made-up | +0.5 | 200 | 1 | 30 | 5 | 164 | 3 | 12 | 3.0 % (1.1 to 6.4) |" in text
