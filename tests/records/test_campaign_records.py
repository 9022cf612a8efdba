"""Campaigns that contradict themselves are refused, each for its reason."""

import pytest
from pydantic import ValidationError

from model.records.campaign import (
    Anchor,
    Boat,
    Campaign,
    Gauge,
    Ladder,
    Minutes,
    Outing,
    Seabed,
    Sign,
    Site,
    Step,
)
from model.records.question import (
    DEFAULT_DIFFERENCE_BAND,
    DEFAULT_RATIO_BAND,
    Band,
    Measure,
    Question,
    SetUp,
)
from model.records.treatment import Treatment

STEPS = tuple(Step(load_kn=load, dwell_s=15) for load in (0.5, 1.0))
LADDER = Ladder(name="steps", steps=STEPS, final_hold_s=60)
LEADER = Treatment(name="leader", baseline="chain only", levels=("chain only", "wire 2 m"))
WIRE = SetUp(anchor="S6", levels={"leader": "wire 2 m"})


def campaign(**changes) -> Campaign:
    values = {
        "name": "Small trials",
        "boats": (Boat(name="workboat", top_thrust_kn=6.2),),
        "ladders": (LADDER,),
        "outings": (Outing(name="day 1", ladder="steps", boat="workboat"),),
        "seabeds": (Seabed(name="firm sand", seabed_class="sand"),),
        "anchors": (Anchor(code="S6", mass_kg=6),),
        "treatments": (LEADER,),
    }
    return Campaign(**(values | changes))


def question(**changes) -> Question:
    return Question(**({"name": "leader", "a": WIRE, "b": SetUp(anchor="S6")} | changes))


def test_small_campaign_stands() -> None:
    assert campaign(questions=(question(),), main_question="leader").name == "Small trials"


REFUSED = {
    "a boat twice": ({"boats": (Boat(name="workboat", top_thrust_kn=1),) * 2}, "listed 2 times"),
    "an unknown ladder": (
        {"outings": (Outing(name="day 1", ladder="other", boat="workboat"),)},
        "unknown ladder 'other'",
    ),
    "an unknown boat": (
        {"outings": (Outing(name="day 1", ladder="steps", boat="other"),)},
        "unknown boat 'other'",
    ),
    "an unknown seabed of a site": (
        {"sites": (Site(name="north", seabed="mud"),)},
        "unknown seabed 'mud'",
    ),
    "an anchor from an unknown one": (
        {"anchors": (Anchor(code="S6", mass_kg=6, modified_from="S7"),)},
        "unknown anchor 'S7'",
    ),
    "an anchor from itself": (
        {"anchors": (Anchor(code="S6", mass_kg=6, modified_from="S6"),)},
        "modified from itself",
    ),
    "an unknown main question": ({"main_question": "other"}, "no question 'other'"),
    "a question on an unknown anchor": (
        {"questions": (question(a=SetUp(anchor="S7")),)},
        "unknown anchor 'S7'",
    ),
    "a question on an unknown level": (
        {"questions": (question(a=SetUp(anchor="S6", levels={"leader": "rope"})),)},
        "unknown level leader=rope",
    ),
    "a question on an unknown seabed": (
        {"questions": (question(seabeds=("mud",)),)},
        "unknown seabed 'mud'",
    ),
    "a set-up against itself, its baseline written out": (
        {"questions": (question(a=SetUp(anchor="S6", levels={"leader": "chain only"})),)},
        "compares a set-up with itself",
    ),
    "a set-up against itself, its usual scope written out": (
        {"usual_scope": 7, "questions": (question(a=SetUp(anchor="S6", scope=7)),)},
        "compares a set-up with itself",
    ),
    "an unknown load unit": ({"load_unit": "stone"}, "unknown load unit 'stone'"),
    "an unknown length unit": ({"length_unit": "fathom"}, "unknown length unit 'fathom'"),
    "no boats": ({"boats": ()}, "at least 1 item"),
    "an anchor from itself by way of another": (
        {
            "anchors": (
                Anchor(code="S6", mass_kg=6, modified_from="S7"),
                Anchor(code="S7", mass_kg=6, modified_from="S6"),
            )
        },
        "'S6' is modified from itself by way of S7",
    ),
    "a ladder that the boat cannot pull": (
        {"boats": (Boat(name="workboat", top_thrust_kn=0.6),)},
        "a ladder up to 1 kN on a boat of 0.6 kN",
    ),
    "a scope below 1": ({"usual_scope": 0.5}, "greater than or equal to 1"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name: str) -> None:
    changes, words = REFUSED[name]
    with pytest.raises(ValidationError, match=words):
        campaign(**changes)


def test_same_set_up_at_another_scope_is_another() -> None:
    made = campaign(questions=(question(a=SetUp(anchor="S6", scope=7)),))
    assert made.filled(made.questions[0].b) == SetUp(
        anchor="S6", levels={"leader": "chain only"}, scope=5
    )


@pytest.mark.parametrize(
    "name", ["anchor", "Scope", "a=b", "a|b", "a,b", " leader", "two\nlines", ""]
)
def test_treatment_name_that_no_text_could_hold(name: str) -> None:
    with pytest.raises(ValidationError):
        Treatment(name=name, baseline="none", levels=("none",))


@pytest.mark.parametrize("name", ["a=b", "a|b", "a\0b"])
def test_sign_name_that_no_cell_could_hold(name: str) -> None:
    with pytest.raises(ValidationError):
        Sign(name=name, points_to="upright")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": "unknown"}, "stands for an old sheet"),
        ({"steps": STEPS[::-1]}, "must increase"),
        ({"steps": (STEPS[0], STEPS[0])}, "must increase"),
        ({"final_hold_s": 10}, "at least one dwell"),
        ({"steps": tuple(step.model_copy(update={"label": "x"}) for step in STEPS)}, "same label"),
        ({"steps": ()}, "at least 1 item"),
    ],
)
def test_impossible_ladder(changes: dict, words: str) -> None:
    values = {"name": "steps", "steps": STEPS, "final_hold_s": 60} | changes
    with pytest.raises(ValidationError, match=words):
        Ladder(**values)


@pytest.mark.parametrize(
    ("baseline", "levels", "words"),
    [("rope", ("wire",), "not among the levels"), ("wire", ("wire", "wire"), "listed twice")],
)
def test_impossible_treatment(baseline: str, levels: tuple[str, ...], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        Treatment(name="leader", baseline=baseline, levels=levels)


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [
        (Anchor, {"code": "S6", "mass_kg": 6e-4}, "0.001"),
        (Step, {"load_kn": 5e-4, "dwell_s": 15}, "0.001"),
        (Step, {"load_kn": 0.5, "dwell_s": 5e-4}, "0.001"),
        (Minutes, {"pull": 1e6}, "100000"),
        (Gauge, {"name": "cell", "resolution_kn": 1e-5}, "0.0001"),
        (Gauge, {"name": "(unnamed)"}, "what has no name"),
        (Site, {"name": "(Unnamed)"}, "what has no name"),
        (Outing, {"name": "day/1", "ladder": "steps", "boat": "workboat"}, "must not hold '/'"),
    ],
)
def test_figures_and_names_that_cannot_be_meant(kind: type, values: dict, words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        kind(**values)


@pytest.mark.parametrize("top_kn", [0.7, 1.0, 5.0])
def test_ladder_may_go_somewhat_above_the_boats_thrust(top_kn: float) -> None:
    assert campaign(boats=(Boat(name="workboat", top_thrust_kn=top_kn),)).ladders == (LADDER,)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"measure": Measure.HOLD}, "needs a load"),
        ({"hold_kn": 3.0}, "needs a load, and only it takes one"),
        ({"measure": Measure.UPRIGHT, "band": DEFAULT_RATIO_BAND}, "other kind of band"),
        ({"b": SetUp()}, "on both sides or on neither"),
        ({"a": SetUp(anchor="S6")}, "the same set-up"),
        ({"seabeds": ("firm sand", "firm sand")}, "named twice"),
        ({"over": "next"}, "names no anchor"),
        ({"name": " leader"}, "pattern"),
        ({"name": "two\nlines"}, "pattern"),
        ({"name": "red\x1b[31m"}, "pattern"),
    ],
)
def test_impossible_question(changes: dict, words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        question(**changes)


def test_band_follows_the_measure() -> None:
    assert question().band == DEFAULT_RATIO_BAND
    assert question(measure=Measure.SETS).band == DEFAULT_DIFFERENCE_BAND


@pytest.mark.parametrize(
    ("kind", "lower", "upper"),
    [
        ("ratio", 1.0, 1.2),
        ("ratio", -0.5, 1.2),
        ("difference", 0.0, 0.1),
        ("difference", -0.1, float("inf")),
        ("difference", -7.0, 7.0),
        ("difference", -1.0, 0.1),
        ("difference", -0.1, 1.0),
    ],
)
def test_impossible_band(kind: str, lower: float, upper: float) -> None:
    with pytest.raises(ValidationError):
        Band(kind=kind, lower=lower, upper=upper)


def test_set_up_in_words() -> None:
    assert WIRE.describe() == "anchor=S6, leader=wire 2 m"
    assert SetUp().describe() == "every anchor at baseline"
