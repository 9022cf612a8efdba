"""A campaign file comes out as the campaign it describes, or with every fault named."""

import datetime as dt
import re

import pytest

from model.base.errors import FaultyFile, InputError
from model.ingest.campaign_file import (
    read_campaign,
    read_campaign_text,
    read_campaign_with_notes,
)
from model.records.campaign import Campaign
from model.records.question import DEFAULT_RATIO_BAND, Measure, SetUp

LEAST = """
name = "Least"
[[boats]]
name = "workboat"
top_thrust = 6.2
[ladders.plain]
dwell_s = 15
final_hold_s = 60
steps = [1, 2, 3]
[[outings]]
name = "day 1"
[[seabeds]]
name = "firm sand"
[[anchors]]
code = "S6"
mass_kg = 6
"""


@pytest.fixture
def text(data) -> str:
    return (data / "campaign.toml").read_text(encoding="utf-8")


@pytest.fixture
def faults(text):
    """Faults of the example with one piece of it put differently."""

    def read(old: str, new: str):
        assert text.count(old) >= 1, "the example no longer holds this piece"
        with pytest.raises(FaultyFile) as caught:
            read_campaign_text(text.replace(old, new, 1), "campaign.toml")
        return caught.value.faults

    return read


class TestGood:
    def test_example(self, data) -> None:
        campaign = read_campaign(data / "campaign.toml")
        assert campaign.is_invented
        assert campaign.boats[0].top_thrust_kn == 6.2
        assert campaign.ladders[0].loads_kn[:3] == (0.5, 1.0, 1.5)
        assert [step.dwell_s for step in campaign.ladders[1].steps] == [15, 15, 20, 30]
        assert campaign.ladders[1].steps[2].label == "1700 rpm"
        assert campaign.ladder_of("old sheet") is None
        assert campaign.outing("day 1").date == dt.date(2026, 5, 3)
        assert campaign.treatment_level_names == ("leader=wire 2 m", "tip ballast=0.4 kg")

    def test_questions(self, hollow_sound) -> None:
        leader, hold = hollow_sound.questions
        assert leader.a == SetUp(anchor="S6", levels={"leader": "wire 2 m"})
        assert (leader.seabeds, leader.band) == (("firm sand",), DEFAULT_RATIO_BAND)
        assert hold.b == SetUp(anchor="W8", levels={"tip ballast": "0.4 kg"}, scope=4)
        assert (hold.measure, hold.hold_kn) == (Measure.HOLD, 4.0)
        assert (hold.band.kind, hold.band.lower, hold.band.upper) == ("difference", -0.15, 0.15)

    def test_defaults_are_said_aloud(self, data) -> None:
        assert read_campaign_with_notes(data / "campaign.toml").notes == (
            "outing 'day 2' names no boat: 'workboat' is taken, the only one",
            "outing 'old sheet' names no boat: 'workboat' is taken, the only one",
        )

    def test_least_that_will_do(self) -> None:
        reading = read_campaign_text(LEAST, "least.toml")
        outing = reading.campaign.outings[0]
        assert (outing.ladder, outing.boat, outing.gauge) == ("plain", "workboat", None)
        assert len(reading.notes) == 2

    def test_no_gauge_among_several_is_said(self, text) -> None:
        reading = read_campaign_text(text.replace('gauge = "load cell"\n', ""), "campaign.toml")
        assert reading.campaign.outing("old sheet").gauge is None
        assert "outing 'old sheet' names no gauge: none is taken, as there are 2" in reading.notes

    def test_other_units(self) -> None:
        text = LEAST.replace("top_thrust = 6.2", "top_thrust_lbf = 1000\nbow_height = 3")
        text = text.replace("dwell_s", 'unit = "kgf"\ndwell_s').replace(
            "mass_kg = 6", "mass_lb = 10"
        )
        text = text.replace("[[boats]]", '[units]\nload = "lbf"\nlength = "ft"\n[[boats]]')
        campaign = read_campaign_text(text, "least.toml").campaign
        assert (campaign.load_unit, campaign.length_unit) == ("lbf", "ft")
        # Exact factors: NIST SP 811.
        assert campaign.boats[0].top_thrust_kn == pytest.approx(4.4482216152605, rel=1e-12)
        assert campaign.boats[0].bow_height_m == pytest.approx(0.9144, rel=1e-12)
        assert campaign.ladders[0].loads_kn[0] == pytest.approx(0.00980665, rel=1e-12)
        assert campaign.anchors[0].mass_kg == pytest.approx(4.5359237, rel=1e-12)

    def test_ladder_in_the_campaigns_unit(self) -> None:
        text = LEAST.replace("[[boats]]", '[units]\nload = "dan"\n[[boats]]', 1)
        assert read_campaign_text(text, "x.toml").campaign.ladders[0].loads_kn == (0.01, 0.02, 0.03)

    @pytest.mark.parametrize(
        ("band", "kind", "lower", "upper"),
        [
            ('"1.2"', "ratio", 1 / 1.2, 1.2),
            ("1.2", "ratio", 1 / 1.2, 1.2),
            ("[0.8, 1.3]", "ratio", 0.8, 1.3),
            ('"0.8..1.3"', "ratio", 0.8, 1.3),
        ],
    )
    def test_bands(self, band, kind, lower, upper, text) -> None:
        new = f'measure = "typical"\nband = {band}'
        campaign = read_campaign_text(text.replace('measure = "typical"', new), "x.toml").campaign
        found = campaign.questions[0].band
        assert (found.kind, found.lower, found.upper) == (kind, lower, upper)

    @pytest.mark.parametrize("band", ["0.2", "[-0.2, 0.2]", '"+-0.2"'])
    def test_bands_of_chances(self, band: str, text) -> None:
        text = text.replace('band = "±0.15"', f"band = {band}")
        found = read_campaign_text(text, "x.toml").campaign.questions[1].band
        assert (found.kind, found.lower, found.upper) == ("difference", -0.2, 0.2)


# name: (piece of the example, put so, key, found, remedy)
BROKEN = {
    "an unknown key": (
        "top_thrust =",
        "top_trust =",
        "boats[1].top_trust",
        "an unknown key 'top_trust'",
        "Did you mean 'top_thrust'?",
    ),
    "an unknown section": (
        "[[gauges]]",
        "[[gages]]",
        "gages",
        "an unknown key 'gages'",
        "Did you mean 'gauges'?",
    ),
    "a mass without its unit": (
        "mass_kg = 8",
        "mass = 8",
        "anchors[2].mass",
        "an unknown key 'mass'",
        "Name its unit: mass_kg or mass_g or mass_lb",
    ),
    "a negative thrust": (
        "top_thrust = 6.2",
        "top_thrust = -6.2",
        "boats[1].top_thrust",
        "-6.2",
        "greater than 0",
    ),
    "a thrust in words": (
        "top_thrust = 6.2",
        'top_thrust = "6.2"',
        "boats[1].top_thrust",
        "'6.2' is no number",
        "without quotes",
    ),
    "no number at all": (
        "top_thrust = 6.2",
        "top_thrust = nan",
        "boats[1].top_thrust",
        "'nan' is no number",
        "without quotes",
    ),
    "one thing in two units": (
        "top_thrust = 6.2",
        "top_thrust = 6.2\ntop_thrust_lbf = 1400",
        "boats[1].top_thrust_lbf",
        "top_thrust_lbf beside top_thrust",
        "Keep one",
    ),
    "an unknown unit": (
        'load = "kn"',
        'load = "stone"',
        "units.load",
        "'stone'",
        "Known: n, kn, dan",
    ),
    "a class nobody knows": (
        'class = "mud"',
        'class = "mudd"',
        "seabeds[2].class",
        "'mudd'",
        "Did you mean 'mud'?",
    ),
    "an unknown ladder": (
        'ladder = "revs"',
        'ladder = "rev"',
        "outings[2].ladder",
        "no ladder 'rev'",
        "Did you mean 'revs'? Known: uneven, revs, unknown",
    ),
    "no ladder among two": (
        'ladder = "revs"\n',
        "",
        "outings[2]",
        "no ladder",
        'Name one of: uneven, revs, or write ladder = "unknown"',
    ),
    "an unknown gauge": (
        'gauge = "load cell"',
        'gauge = "load sell"',
        "outings[3].gauge",
        "no gauge 'load sell'",
        "Did you mean 'load cell'?",
    ),
    "a date in quotes": (
        "date = 2026-05-04",
        'date = "2026-05-04"',
        "outings[2].date",
        "'2026-05-04' is no date",
        "without quotes",
    ),
    "an anchor twice": (
        'code = "W8"',
        'code = "S6"',
        "anchors[2].code",
        "'S6' stands twice",
        "otherwise",
    ),
    "an anchor from an unknown one": (
        'modified_from = "S6"',
        'modified_from = "S66"',
        "anchors[3].modified_from",
        "no anchor 'S66'",
        "Did you mean 'S6'?",
    ),
    "a baseline that is no level": (
        'baseline = "none"',
        'baseline = "nothing"',
        "treatments.tip ballast",
        "the baseline 'nothing' is not among the levels",
        "Add it to levels as well, or make baseline one of",
    ),
    "a treatment called like a column": (
        "[treatments.leader]",
        "[treatments.wind]",
        "treatments.wind",
        "a treatment called 'wind'",
        "a column of the pull log is called so",
    ),
    "steps that do not rise": (
        "2.6, 3.2",
        "3.6, 3.2",
        "ladders.uneven",
        "must increase",
        "Put this table right",
    ),
    "a step that is a word": (
        "[0.5, 1.0,",
        '["low", 1.0,',
        "ladders.uneven.steps[1].load",
        "'low' is no number",
        "without quotes",
    ),
    "steps that are no list": (
        "steps = [0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 3.9, 4.6, 5.4, 6.2]",
        "steps = 0.5",
        "ladders.uneven.steps",
        "'0.5' is no list of steps",
        "Write [0.5, 1.0, 1.5]",
    ),
    "no dwell": ("dwell_s = 15\n", "", "ladders.uneven", "no dwell_s", "Add dwell_s to the ladder"),
    "a final hold below one dwell": (
        "final_hold_s = 60",
        "final_hold_s = 10",
        "ladders.uneven",
        "at least one dwell",
        "Put this table right",
    ),
    "a sign that points nowhere": (
        'points_to = "upright"',
        'points_to = "uprigt"',
        "signs[1].points_to",
        "'uprigt'",
        "Did you mean 'upright'?",
    ),
    "a name that would break a sign's cell": (
        'name = "marker under"',
        'name = "marker=under"',
        "signs[1].name",
        "'marker=under'",
        "must not hold '='",
    ),
    "minutes of nothing": ("pull = 15", "pull = 0", "minutes.pull", "0", "greater than 0"),
    "a scope below 1": ("usual_scope = 5", "usual_scope = 0.5", "usual_scope", "0.5", "1 to 100"),
    "invented in words": (
        "invented = true",
        'invented = "yes"',
        "invented",
        "'yes' is neither true nor false",
        "Write true or false",
    ),
    "an unknown main question": (
        'main_question = "leader on S6"',
        'main_question = "leader on W8"',
        "main_question",
        "no question 'leader on W8'",
        "Did you mean 'leader on S6'?",
    ),
    "an unknown anchor in a question": (
        'a = "anchor=S6, leader=wire 2 m"',
        'a = "anchor=S66, leader=wire 2 m"',
        "questions[1].a",
        "no anchor 'S66'",
        "Did you mean 'S6'?",
    ),
    "an unknown level in a table": (
        '"tip ballast" = "0.4 kg"',
        '"tip ballast" = "0.5 kg"',
        "questions[2].b",
        "no level '0.5 kg' of tip ballast",
        "Did you mean '0.4 kg'?",
    ),
    "an unknown key in a set-up": (
        'a = { anchor = "S6" }',
        'a = { ancor = "S6" }',
        "questions[2].a.ancor",
        "an unknown key 'ancor'",
        "Did you mean 'anchor'?",
    ),
    "an unknown seabed": (
        'seabed = "firm sand"\nmeasure',
        'seabed = "firm snad"\nmeasure',
        "questions[1].seabed",
        "no seabed 'firm snad'",
        "Did you mean 'firm sand'?",
    ),
    "an unknown measure": (
        'measure = "typical"',
        'measure = "typicl"',
        "questions[1].measure",
        "'typicl'",
        "Did you mean 'typical'?",
    ),
    "a band that is none": (
        'band = "±0.15"',
        'band = "narrow"',
        "questions[2].band",
        "'narrow' is no band",
        "±0.10",
    ),
    "a band of the other kind": (
        'band = "±0.15"',
        'band = "1.15"',
        "questions[2]",
        "takes the other kind of band",
        "Put this table right",
    ),
    "hold without a load": (
        "hold = 4.0\n",
        "",
        "questions[2]",
        "the measure hold needs a load",
        "Put this table right",
    ),
    "both sides alike": (
        'b = "anchor=S6, leader=chain only"',
        'b = "anchor=S6, leader=wire 2 m"',
        "questions[1]",
        "both sides are the same",
        "Put this table right",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_one_fault(name: str, text, faults) -> None:
    old, new, key, found, remedy = BROKEN[name]
    by_key = {fault.column: fault for fault in faults(old, new)}
    assert key in by_key
    fault = by_key[key]
    assert fault.source == "campaign.toml"
    assert found in fault.found
    assert remedy in fault.remedy


@pytest.mark.parametrize("name", ["an unknown key", "an unknown ladder", "an unknown measure"])
def test_line_is_that_of_the_key(name: str, text, faults) -> None:
    old, new, key, *_ = BROKEN[name]
    line = text[: text.index(old)].count("\n") + 1
    assert {fault.column: fault.line for fault in faults(old, new)}[key] == line


def test_lines_stay_right_past_texts_of_several_lines() -> None:
    about = 'about = """\n[[boats]]\ntop_thrust = 1\n"""\n'
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(about + LEAST.replace("6.2", "-1"), "campaign.toml")
    (fault,) = caught.value.faults
    assert (fault.column, fault.line) == ("boats[1].top_thrust", 9)


def test_set_up_against_itself_at_its_baseline(faults) -> None:
    """Written out or left out, the baseline is the same set-up."""
    (fault,) = faults('a = "anchor=S6, leader=wire 2 m"', 'a = "anchor=S6, scope=5"')
    assert "'leader on S6' compares a set-up with itself" in fault.found


def test_missing_sections() -> None:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text('name = "Bare"\n', "bare.toml")
    assert [fault.found for fault in caught.value.faults] == [
        "no boats",
        "no outings",
        "no seabeds",
        "no anchors",
    ]
    assert "Add [[boats]]" in caught.value.faults[0].remedy


def test_all_faults_at_once(text) -> None:
    for piece in ("an unknown key", "an unknown ladder", "a class nobody knows", "no dwell"):
        old, new, *_ = BROKEN[piece]
        text = text.replace(old, new, 1)
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(text, "campaign.toml")
    columns = [fault.column for fault in caught.value.faults]
    assert columns == [
        "boats[1]",  # now without a thrust
        "boats[1].top_trust",
        "ladders.uneven",
        "outings[2].ladder",
        "seabeds[2].class",
    ]
    assert "Nothing was made of this file" in caught.value.hint


@pytest.mark.parametrize(
    ("broken", "line"), [("name = Hollow", 1), ("a = 1\nb = [1, 2", 2), ("a = 1\na = 2", 2)]
)
def test_no_toml(broken: str, line: int) -> None:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(broken, "campaign.toml")
    (fault,) = caught.value.faults
    assert fault.line == line
    assert "no TOML here" in fault.found
    assert not re.search("at line", fault.found)


def test_a_number_of_very_many_digits_has_its_line() -> None:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(f'name = "x"\n[[boats]]\ntop_thrust = {"9" * 5000}\n', "campaign.toml")
    (fault,) = caught.value.faults
    assert (fault.line, fault.column) == (3, "boats[1].top_thrust")
    assert fault.found == "a number of more than 4300 digits"


def test_a_name_with_a_space_is_shown_in_its_quotes() -> None:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text("[treatments.tip ballast]\n", "campaign.toml")
    assert '[treatments."tip ballast"]' in caught.value.faults[0].remedy


def test_no_file(tmp_path) -> None:
    with pytest.raises(InputError, match="cannot read"):
        read_campaign(tmp_path / "nowhere.toml")


def test_campaign_survives_its_record(hollow_sound) -> None:
    again = Campaign.model_validate_json(hollow_sound.model_dump_json())
    assert again == hollow_sound


LEADER = """
[treatments.leader]
baseline = "chain only"
levels = ["chain only", "wire 2 m"]
"""
OWN_SHEETS = """
[columns]
decimal_comma = true
date_order = "day first"
[columns.headings]
"Zug kN" = "load_kn"
Vorlauf = "Leader"
"""


def test_a_heading_without_its_unit_may_be_ones_own() -> None:
    text = f'{LEAST}\n[columns.headings]\nLoad = "load_kn"\n'
    columns = read_campaign_text(text, "campaign.toml").campaign.columns
    assert columns.headings == {"Load": "load_kn"}


def test_how_own_sheets_are_written() -> None:
    columns = read_campaign_text(f"{LEAST}{LEADER}{OWN_SHEETS}", "campaign.toml").campaign.columns
    assert columns.headings == {"Zug kN": "load_kn", "Vorlauf": "leader"}
    assert (columns.has_decimal_comma, columns.date_order) == (True, "day first")


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ('date_order = "any"', "'any'"),
        ('decimal_comma = "yes"', "neither true nor false"),
        ("commas = true", "an unknown key 'commas'"),
        ('headings = "x"', "is no table"),
        ('headings = {Zug = "lod_kn"}', "'lod_kn' is no heading of a log"),
        ("headings = {Zug = 3}", "is no text"),
        ('headings = {anchor = "seabed"}', "'anchor' is a heading that the log knows"),
        ('headings = {Zug = "anchor", Anker = "anchor"}', "'anchor' stands twice"),
        ('headings = {"Zug kN" = "load_kn", zug_kn = "last_held_kn"}', "'zug_kn' stands twice"),
        (f'headings = {{{"x" * 121} = "anchor"}}', "xxxxxxxxxxxx"),
    ],
)
def test_faults_of_the_columns(line, found) -> None:
    with pytest.raises(FaultyFile) as caught:
        read_campaign_text(f"{LEAST}{LEADER}\n[columns]\n{line}\n", "campaign.toml")
    assert any(found in fault.found for fault in caught.value.faults)
    assert all(fault.line for fault in caught.value.faults)
