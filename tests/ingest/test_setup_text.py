"""Set-ups and bands as they are written on the command line."""

import pytest

from model.base.errors import InputError, UnknownName
from model.ingest.setup_text import parse_band, parse_setup
from model.records.question import SetUp

WIRE = {"leader": "wire 2 m"}


@pytest.mark.parametrize(
    ("text", "setup"),
    [
        ("anchor=S6", SetUp(anchor="S6")),
        (
            "anchor=S6, leader=wire 2 m, scope=5",
            SetUp(anchor="S6", levels=WIRE, scope=5),
        ),
        (" scope = 5:1 ,leader = WIRE 2 M,anchor = s6 ", SetUp(anchor="S6", levels=WIRE, scope=5)),
        ("leader=wire 2 m", SetUp(levels=WIRE)),
        ("tip ballast=0.4 kg", SetUp(levels={"tip ballast": "0.4 kg"})),
        ("every anchor at baseline", SetUp()),
    ],
)
def test_setup(text: str, setup: SetUp, hollow_sound) -> None:
    assert parse_setup(text, hollow_sound) == setup


@pytest.mark.parametrize(
    "setup", [SetUp(), SetUp(anchor="S6b", levels=WIRE | {"tip ballast": "none"}, scope=4.5)]
)
def test_setup_reads_back_what_it_describes(setup: SetUp, hollow_sound) -> None:
    assert parse_setup(setup.describe(), hollow_sound) == setup


def test_level_may_hold_a_comma(hollow_sound) -> None:
    leader = hollow_sound.treatments[0].model_copy(update={"levels": ("chain only", "wire, 2 m")})
    campaign = hollow_sound.model_copy(update={"treatments": (leader,)})
    found = parse_setup("anchor=S6, leader=wire, 2 m, scope=5", campaign)
    assert found == SetUp(anchor="S6", levels={"leader": "wire, 2 m"}, scope=5)


@pytest.mark.parametrize(
    ("text", "found", "hint"),
    [
        ("anchor=S66", "no anchor 'S66'", "Did you mean 'S6'? Known: S6, W8, S6b"),
        ("leeder=wire 2 m", "no treatment 'leeder'", "Did you mean 'leader'? Known: anchor, scope"),
        ("leader=wire 3 m", "no level 'wire 3 m' of leader", "Known: chain only, wire 2 m"),
        ("anchor=X9, leader=rope", "no anchor 'X9'; no level 'rope' of leader", "Known: S6"),
    ],
)
def test_unknown_name(text: str, found: str, hint: str, hollow_sound) -> None:
    with pytest.raises(UnknownName) as caught:
        parse_setup(text, hollow_sound)
    assert caught.value.message == found
    assert hint in caught.value.hint
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    "text",
    [
        *("", "S6", "anchor=", "=S6", "anchor=S6, anchor=W8", "anchor=S6 scope=5, ", ","),
        *("anchor=S6, scope=0.5", "anchor=S6, scope=deep", "anchor=S6, scope=1e9"),
    ],
)
def test_no_setup(text: str, hollow_sound) -> None:
    with pytest.raises(InputError) as caught:
        parse_setup(text, hollow_sound)
    assert caught.value.hint


@pytest.mark.parametrize(
    ("text", "kind", "lower", "upper"),
    [
        ("1.15", "ratio", 1 / 1.15, 1.15),
        ("0.87..1.15", "ratio", 0.87, 1.15),
        (" 0.87 .. 1.15 ", "ratio", 0.87, 1.15),
        ("±0.10", "difference", -0.1, 0.1),
        ("+-0.1", "difference", -0.1, 0.1),
        ("+/- 0.1", "difference", -0.1, 0.1),
        ("-0.1..0.2", "difference", -0.1, 0.2),
        ("−0.1..0.2", "difference", -0.1, 0.2),
    ],
)
def test_band(text: str, kind: str, lower: float, upper: float) -> None:
    band = parse_band(text)
    assert (band.kind, band.lower, band.upper) == (kind, lower, upper)


@pytest.mark.parametrize(
    "text", ["", "1", "0.87", "1.2..1.5", "0.5..0.9", "±0", "-0.2..-0.1", "0..1.2", "wide", "±1e9"]
)
def test_no_band(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_band(text)
    assert "is no band" in caught.value.message
    assert "1.15" in caught.value.hint


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("S6", "Did you mean anchor=S6? Write it as"),
        ("s6, leader=wire 2 m", "Did you mean anchor=S6? Write it as"),
        ("wire 2 m", "Did you mean leader=wire 2 m? Write it as"),
        ("Q1", "Write it as"),
        ("anchor=", "Write it as"),
    ],
)
def test_a_name_without_its_key_is_recognised(text: str, meant: str, hollow_sound) -> None:
    with pytest.raises(InputError, match="is no set-up") as caught:
        parse_setup(text, hollow_sound)
    assert caught.value.hint.startswith(meant)


@pytest.mark.parametrize("text", ["10", "0.1..1.1", "0.9..4"])
def test_a_band_within_which_nearly_everything_lies(text):
    """Ten for ten per cent would call every difference none."""
    with pytest.raises(InputError, match="times as much") as caught:
        parse_band(text)
    assert "Ten per cent are 1.1." in caught.value.hint
