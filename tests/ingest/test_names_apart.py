"""Names of one list that nobody could tell apart, or ask for by text, are refused at once."""

import unicodedata
from pathlib import Path

import pytest

from model.base.errors import Fault, FaultyFile
from model.ingest.campaign_file import read_campaign_text
from model.ingest.known_names import find_name, plain
from model.records.campaign import Campaign
from model.store.store import Store

# name: (piece of the example that stays, what comes before it, key, one name, the other)
ALIKE = {
    "a gauge": (
        "[ladders.uneven]",
        '[[gauges]]\nname = "Load Cell"',
        "gauges[3].name",
        "'Load Cell', which is 'load cell'",
    ),
    "a ladder": (
        "[[outings]]",
        "[ladders.Revs]\ndwell_s = 15\nfinal_hold_s = 60\nsteps = [1, 2]",
        "ladders.Revs",
        "'Revs', which is 'revs'",
    ),
    "an outing": (
        "[[seabeds]]",
        '[[outings]]\nname = "Old Sheet"\nladder = "unknown"\ngauge = "load cell"',
        "outings[4].name",
        "'Old Sheet', which is 'old sheet'",
    ),
    "a seabed": (
        "[[sites]]",
        '[[seabeds]]\nname = "firm  sand"',
        "seabeds[3].name",
        "'firm  sand', which is 'firm sand'",
    ),
    "a site": (
        "[[anchors]]",
        '[[sites]]\nname = "Inner pool"',
        "sites[3].name",
        "'Inner pool', which is 'inner pool'",
    ),
    "an anchor": (
        "[treatments.leader]",
        '[[anchors]]\ncode = "s6"\nmass_kg = 6',
        "anchors[4].code",
        "'s6', which is 'S6'",
    ),
    "a treatment": (
        "[[signs]]",
        '[treatments.Leader]\nbaseline = "none"\nlevels = ["none", "some"]',
        "treatments.Leader",
        "'Leader', which is 'leader'",
    ),
    "a sign": (
        "[minutes]",
        '[[signs]]\nname = "Shank out"\npoints_to = "on_side"',
        "signs[3].name",
        "'Shank out', which is 'shank out'",
    ),
    "a question": (
        '[[questions]]\nname = "S6',
        '[[questions]]\nname = "Leader on S6"\na = "anchor=S6"\nb = "anchor=W8"',
        "questions[2].name",
        "'Leader on S6', which is 'leader on S6'",
    ),
}


@pytest.fixture
def text(data: Path) -> str:
    return (data / "campaign.toml").read_text(encoding="utf-8")


def faults_of(text: str) -> tuple[Fault, ...]:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(text, "campaign.toml")
    return caught.value.faults


@pytest.mark.parametrize("name", ALIKE)
def test_alike_but_for_case_or_spaces(name: str, text: str) -> None:
    piece, more, key, found = ALIKE[name]
    assert piece in text
    (fault,) = faults_of(text.replace(piece, f"{more}\n{piece}", 1))
    assert fault.column == key
    assert fault.found == f"{found} but for case, spaces or signs that look alike"
    assert fault.remedy.startswith("Call one of them otherwise")


def test_two_boats_alike(text: str) -> None:
    more = '[[boats]]\nname = "Workboat"\ntop_thrust = 5\n[[gauges]]'
    first, *others = faults_of(text.replace("[[gauges]]", more, 1))
    assert (first.column, first.found[:31]) == ("boats[2].name", "'Workboat', which is 'workboat'")
    assert {fault.found for fault in others} == {"no boat"}  # outings that named none of the two


def test_two_levels_alike(text: str) -> None:
    (fault,) = faults_of(text.replace('"wire 2 m"]', '"wire 2 m", "Wire 2 m"]', 1))
    assert fault.column == "treatments.leader.levels"
    assert fault.found.startswith("'Wire 2 m', which is 'wire 2 m' but for case")


@pytest.mark.parametrize(
    "code",
    ["\uff336", "\u04056", "\u0455\uff16"],
    ids=["wide", "Cyrillic", "small and wide"],
)
def test_alike_but_for_what_no_eye_can_tell(code: str, text: str) -> None:
    more = f'[[anchors]]\ncode = "{code}"\nmass_kg = 6\n[treatments.leader]'
    (fault,) = faults_of(text.replace("[treatments.leader]", more, 1))
    assert fault.column == "anchors[4].code"
    assert f"{code!a}, which is 'S6' but for case" in fault.found


@pytest.mark.parametrize(
    ("sign", "called"),
    [
        ("\u200b", "zero width space"),
        ("\ufeff", "zero width no-break space"),
        ("\u00ad", "soft hyphen"),
        ("\u2060", "word joiner"),
        ("\u202e", "right-to-left override"),
    ],
)
@pytest.mark.parametrize(
    ("piece", "column"),
    [
        ('code = "S6', "anchors[1].code"),
        ('name = "day 1', "outings[1].name"),
        ("[ladders.uneven", "ladders.uneven"),
        ('"wire 2 m', "treatments.leader.levels"),
        ('[[questions]]\nname = "leader', "questions[1].name"),
    ],
)
def test_signs_that_nobody_sees(piece: str, column: str, sign: str, called: str, text: str) -> None:
    """Where one is, also without another name like it: what is seen is not what is there."""
    assert piece in text
    if piece.startswith("[ladders"):
        text, piece = text.replace(piece, '[ladders."uneven"'), '[ladders."uneven'
        column = f"ladders.uneven{sign}"
    found = faults_of(text.replace(piece, piece + sign, 1))
    [fault] = [fault for fault in found if "that nobody sees" in fault.found]
    assert fault.column == column
    assert fault.found.endswith(f"holds a sign that nobody sees ({called})")
    assert f"\\x{ord(sign):02x}" in fault.found or f"\\u{ord(sign):04x}" in fault.found
    assert fault.remedy.startswith("Type the name anew, as '")
    assert sign not in fault.remedy


def test_a_campaign_whose_own_name_turns_round(text: str) -> None:
    (fault,) = faults_of(text.replace('name = "', 'name = "\u202e', 1))
    assert fault.column == "name"


def test_what_was_let_in_before_still_opens(small_campaign: Campaign, tmp_path: Path) -> None:
    old = small_campaign.anchors[0].model_copy(update={"code": "Q1\u202e"})
    anchors = (*small_campaign.anchors, old)
    Store.create(tmp_path, small_campaign.model_copy(update={"anchors": anchors}))
    assert Store.open(tmp_path).campaign().anchors[-1].code == "Q1\u202e"


def test_composed_and_taken_apart(text: str) -> None:
    apart = unicodedata.normalize("NFD", "grève")
    more = f'[[sites]]\nname = "grève"\n[[sites]]\nname = "{apart}"\n[[anchors]]'
    (fault,) = faults_of(text.replace("[[anchors]]", more, 1))
    assert fault.found.startswith(r"'gre\u0300ve', which is 'gr\xe8ve' but for")


def test_what_is_seen_to_differ_stays_apart() -> None:
    names = ["S6", "S6b", "S-6", "S 6", "S.6", "5:1", "51", "ß6", "é", "e"]
    assert len({plain(name) for name in names}) == len(names)


def test_a_cell_may_hold_a_name_coded_otherwise() -> None:
    assert find_name(" S6\u200b", ["S6", "W8"]) == "S6"
    assert find_name(unicodedata.normalize("NFD", "Grève"), ["grève", "bar"]) == "grève"


@pytest.mark.parametrize(
    ("name", "marks"),
    [
        ("wire, scope=5", "',' and '='"),
        ("wire, chain=6 mm", "',' and '='"),
        ("wire , chain", "','"),
        (",wire", "','"),
    ],
)
def test_names_that_could_not_be_asked_for(name: str, marks: str, text: str) -> None:
    (level,) = faults_of(text.replace('"wire 2 m"]', f'"wire 2 m", "{name}"]', 1))
    more = f'[[anchors]]\ncode = "{name}"\nmass_kg = 6\n[treatments.leader]'
    (code,) = faults_of(text.replace("[treatments.leader]", more, 1))
    assert (level.column, code.column) == ("treatments.leader.levels", "anchors[4].code")
    for fault in (level, code):
        assert fault.found.startswith(f"'{name}' holds {marks}, at which the text of a question")
        assert fault.remedy.startswith("Write it without")


@pytest.mark.parametrize("name", ["0,4 kg", "wire, 2 m", "a=b", "wire & chain", "5:1"])
def test_names_that_can_be_asked_for_stay(name: str, text: str) -> None:
    text = text.replace('"wire 2 m"]', f'"wire 2 m", "{name}"]', 1)
    more = f'[[questions]]\nname = "more"\na = "anchor=S6, leader={name}, scope=4"\nb = "anchor=W8"'
    campaign = read_campaign_text(f"{text}\n{more}\n", "campaign.toml").campaign
    assert campaign.questions[-1].a.levels == {"leader": name}


@pytest.mark.parametrize("name", ["tip,ballast", "tip=ballast", "tip|ballast"])
def test_treatments_that_could_not_be_asked_for(name: str, text: str) -> None:
    more = f'[treatments."{name}"]\nbaseline = "none"\nlevels = ["none", "some"]\n[[signs]]'
    (fault,) = faults_of(text.replace("[[signs]]", more, 1))
    assert (fault.column, fault.found) == (f"treatments.{name}", f"'{name}'")
    assert "must not hold '=', '|' or ','" in fault.remedy
