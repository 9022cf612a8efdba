"""A written log reads back as the pulls it was written from, and no spreadsheet runs it."""

import csv
import datetime as dt
import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from model.base.errors import InputError
from model.ingest import log_writer, table
from model.ingest.formula_guard import guarded, unguarded
from model.ingest.log_file import read_log, read_log_text
from model.ingest.log_writer import log_text, write_log
from model.records.campaign import Campaign
from model.records.pull import Bite, BuriedRode, Ending, ModeSeen, Pull, Reading, Start

STEPS = (0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6, 5.4, 6.2)

words = st.text(
    st.characters(exclude_characters="\0", exclude_categories=("Cs",)), min_size=1, max_size=12
).filter(lambda text: text.strip())
names = words.map(str.strip).filter(lambda name: all(ord(c) > 31 and ord(c) != 127 for c in name))


def figures(least: float, most: float) -> st.SearchStrategy[float]:
    """Numbers that somebody may have written: none is next to nothing."""
    return st.floats(least, most).map(lambda value: value if value > 1e-9 else 0.0)


headings = names.map(lambda name: f"my {name}")


@st.composite
def buried(draw: st.DrawFn) -> BuriedRode:
    length = draw(st.floats(0.01, 100))
    kind = draw(st.sampled_from(["reading", "at_least", "less_than"]))
    width = draw(st.sampled_from([0.1, 0.01, 0.05, 0.3])) if kind == "reading" else None
    return BuriedRode(kind=kind, length_m=length, resolution_m=width)


@st.composite
def bites(draw: st.DrawFn) -> tuple[Bite, ...]:
    """A fresh bite and, where it let go on the ladder, perhaps a re-set above it."""
    seen = {
        "mode": draw(st.none() | st.sampled_from(ModeSeen)),
        "has_camera": draw(st.none() | st.booleans()),
        "buried": draw(st.none() | buried()),
        "signs": draw(
            st.dictionaries(st.sampled_from(["marker under", "shank out"]), st.booleans())
        ),
    }
    ending = draw(st.sampled_from(Ending))
    if ending is Ending.NEVER_SET:
        return (Bite(number=1, ending=ending),)
    if ending is Ending.HELD:
        return (
            Bite(number=1, ending=ending, load_kn=6.2, held_s=draw(st.floats(15, 600)), **seen),
        )
    if ending.is_release and draw(st.booleans()):
        peak = draw(st.floats(0.5, 8))
        width = draw(st.floats(0.001, 0.9))
        return (
            Bite(
                number=1,
                ending=ending,
                reading=Reading.PEAK,
                load_kn=peak,
                resolution_kn=width,
                **seen,
            ),
        )
    place = draw(st.integers(0, len(STEPS) - 2))
    first = Bite(number=1, ending=ending, load_kn=STEPS[place], **seen)
    if ending is not Ending.RELEASED or draw(st.booleans()):
        return (first,)
    eased = draw(st.none() | figures(0, STEPS[place]))
    start = draw(st.sampled_from([Start.AFTER_SLIP, Start.AFTER_TURN]))
    second = Bite(
        number=2,
        start=start,
        start_kn=eased,
        ending=Ending.RELEASED,
        load_kn=STEPS[place + 1],
        # No less than what was on: after a slip the thrust is, unless the crew eased.
        last_held_kn=draw(st.none() | st.just(STEPS[place])),
    )
    return (first, second)


@st.composite
def pulls(draw: st.DrawFn, code: str) -> Pull:
    site, seabed = draw(st.sampled_from([("inner pool", "soft mud"), (None, "firm sand")]))
    return Pull(
        code=code,
        outing="day 1",
        anchor=draw(st.sampled_from(["S6", "W8", "S6b"])),
        seabed=seabed,
        site=site,
        levels=draw(
            st.fixed_dictionaries(
                {},
                optional={
                    "leader": st.sampled_from(["chain only", "wire 2 m"]),
                    "tip ballast": st.sampled_from(["none", "0.4 kg"]),
                },
            )
        ),
        scope=draw(st.none() | st.floats(1, 100)),
        date=draw(st.none() | st.dates(dt.date(1900, 1, 1), dt.date(2100, 12, 31))),
        time=draw(st.none() | st.times()),
        bites=draw(bites()),
        soak_min=draw(st.none() | figures(0, 1e6)),
        reason=draw(words),
        notes=draw(st.just("") | words),
        video=draw(st.just("") | words),
        wind=draw(st.just("") | words),
        extras=draw(st.dictionaries(headings, words, max_size=3)),
    )


def fits(pull: Pull) -> bool:
    """Headings that differ by case or spaces alone would be one heading twice."""
    keys = [table.column_key(heading) for heading in pull.extras]
    return len(set(keys)) == len(keys)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(pull=names.flatmap(pulls).filter(fits))
def test_round_trip(hollow_sound: Campaign, pull: Pull) -> None:
    text = log_text([pull], hollow_sound)
    assert read_log_text(text, "log.csv", hollow_sound).pulls == (pull,)


def test_example_log_round_trips(data, hollow_sound, tmp_path) -> None:
    pulls = read_log(data / "pulls.csv", hollow_sound).pulls
    write_log(pulls, hollow_sound, tmp_path / "again.csv")
    assert read_log(tmp_path / "again.csv", hollow_sound).pulls == pulls


FORMULA_STARTS = set("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")  # the last four: wide forms
DANGEROUS = [
    "=1+1",
    "+1",
    "-1",
    "@sum(1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "\uff1d1",
    "\uff0b1",
    "\uff0d1",
    "\uff20a",
]


@pytest.mark.parametrize("text", [*DANGEROUS, "'=1", "''=1", "'quoted'", "'", "plain", ""])
def test_guard_is_taken_off_again(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert guarded(text)[:1] not in FORMULA_STARTS


@pytest.fixture
def dangerous_pull() -> Pull:
    return Pull(
        code="-1",
        outing="day 1",
        anchor="S6",
        seabed="firm sand",
        notes="=cmd|' /C calc'!A0",
        wind="@sum(1)",
        extras={"=heading": "+1"},
        bites=(Bite(number=1, ending=Ending.NEVER_SET),),
    )


def formulas(text: str) -> list[str]:
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    return [cell for cell in cells if cell[:1] in FORMULA_STARTS]


def test_no_cell_is_a_formula(dangerous_pull, hollow_sound) -> None:
    text = log_text([dangerous_pull], hollow_sound)
    assert formulas(text) == []
    assert read_log_text(text, "log.csv", hollow_sound).pulls == (dangerous_pull,)


def test_without_the_guard_cells_are_formulas(dangerous_pull, hollow_sound, monkeypatch) -> None:
    monkeypatch.setattr(log_writer, "guarded", lambda text: text)
    assert len(formulas(log_text([dangerous_pull], hollow_sound))) == 5


def test_without_taking_the_guard_off_texts_change(
    dangerous_pull, hollow_sound, monkeypatch
) -> None:
    monkeypatch.setattr(table, "unguarded", lambda cell: cell)
    text = log_text([dangerous_pull], hollow_sound)
    assert read_log_text(text, "log.csv", hollow_sound).pulls != (dangerous_pull,)


@pytest.mark.parametrize("heading", ["load_kn", "Leader", "start", " x", ""])
def test_own_column_called_like_ours_is_refused(heading, dangerous_pull, hollow_sound) -> None:
    pull = dangerous_pull.model_copy(update={"extras": {heading: "x"}})
    with pytest.raises(InputError, match="cannot be called"):
        log_text([pull], hollow_sound)


@pytest.mark.parametrize("notes", ["a\0b", "a\ud800b"])
def test_text_that_no_log_can_hold_is_refused(notes, dangerous_pull, hollow_sound, tmp_path):
    pull = dangerous_pull.model_copy(update={"notes": notes})
    with pytest.raises(InputError):
        write_log([pull], hollow_sound, tmp_path / "log.csv")
    assert not (tmp_path / "log.csv").exists()


def test_folder_that_is_not_there(dangerous_pull, hollow_sound, tmp_path) -> None:
    with pytest.raises(InputError, match="cannot write"):
        write_log([dangerous_pull], hollow_sound, tmp_path / "nowhere" / "log.csv")
