"""Each guard earns its keep: with it gone, the bad log comes out as plausible records."""

import pytest

SLIP = {"bite": "2", "start": "after slip"}

# name: (what is taken away, what stands in for it, rows that then pass)
GUARDS = {
    "bites in order": (
        "model.ingest.pulls._order_faults",
        lambda _rows: iter(()),
        ({"bite": "1"}, {"bite": "3", "start": "after slip", "load_kn": "3.2"}),
        "where bite 2 comes",
    ),
    "rows of one pull agree": (
        "model.ingest.pulls.disagreements",
        lambda _rows, _campaign: iter(()),
        ({"bite": "1"}, SLIP | {"load_kn": "3.2", "anchor": "W8"}),
        "'W8', and line 2",
    ),
    "a re-set stands the thrust": (
        "model.ingest.pulls.start_thrust_faults",
        lambda *_: iter(()),
        ({"bite": "1"}, SLIP),
        "was on when it began",
    ),
    "a step is on the ladder": (
        "model.ingest.loads.find_step",
        lambda written, _ladder, is_zero_allowed: written.value,
        ({"load_kn": "2.8"},),
        "is no step of the ladder",
    ),
    "held for a dwell at least": (
        "model.ingest.bites._short_hold",
        lambda *_: iter(()),
        ({"ending": "held", "load_kn": "6.2", "held_s": "3"},),
        "less than one dwell",
    ),
    "a seabed that the site has": (
        "model.ingest.row_names._misplaced",
        lambda *_: iter(()),
        ({"site": "inner pool"},),
        "which is soft mud",
    ),
}


@pytest.mark.parametrize("name", GUARDS)
def test_guard(name: str, rows, faults, reads, monkeypatch) -> None:
    target, stand_in, bad, words = GUARDS[name]
    text = rows(*bad)
    assert any(words in fault.found for fault in faults(text))
    monkeypatch.setattr(target, stand_in)
    assert reads(text).pulls


def test_record_is_the_second_line_of_defence(rows, faults, monkeypatch) -> None:
    text = rows({"reading": "peak", "last_held_kn": "2.7"})
    assert "yet let go at" in faults(text)[0].found
    monkeypatch.setattr("model.ingest.loads._check_below", lambda *_: None)
    (fault,) = faults(text)
    assert fault.line == 2
    assert "must be below the load at which it let go" in fault.found


def test_one_identity_twice_would_be_one_longer_pull(rows, faults, reads, monkeypatch) -> None:
    text = rows({}, {"load_kn": "3.2"})
    assert "stands in line 2 already" in faults(text)[0].found
    for guard in ("_repeated_bites", "_order_faults"):
        monkeypatch.setattr(f"model.ingest.pulls.{guard}", lambda _rows: iter(()))
    (pull,) = reads(text).pulls
    assert len(pull.bites) == 2
