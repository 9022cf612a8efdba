from urllib.parse import parse_qs, urlencode

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from app.links import ASKED_HERE, parameters_of, question_from
from model.base.errors import InputError, UnknownName
from model.records.question import Measure, Question, SetUp


def there_and_back(question, campaign):
    address = urlencode(parameters_of(question, campaign), doseq=True)
    return question_from(parse_qs(address, keep_blank_values=True), campaign)


def setups(anchor):
    return st.builds(
        SetUp,
        anchor=anchor,
        levels=st.fixed_dictionaries(
            {},
            optional={
                "leader": st.sampled_from(["chain only", "wire 2 m"]),
                "chain": st.sampled_from(["8 mm", "6 mm"]),
            },
        ),
        scope=st.none() | st.sampled_from([3.0, 4.5, 7.0]),
    )


@st.composite
def questions(draw):
    anchor = st.none() if draw(st.booleans()) else st.sampled_from(["S6", "P9"])
    measure = draw(st.sampled_from(list(Measure)))
    parts = {
        "name": ASKED_HERE,
        "a": draw(setups(anchor)),
        "b": draw(setups(anchor)),
        "seabeds": draw(st.sampled_from([(), ("firm sand",), ("firm sand", "soft mud")])),
        "measure": measure,
        "hold_kn": draw(st.floats(0.01, 99)) if measure is Measure.HOLD else None,
        "over": draw(st.sampled_from(["campaign", "next"])),
    }
    try:
        return Question.model_validate(parts)
    except ValidationError:
        return None


def bare(question):
    baselines = {"leader": "chain only", "chain": "8 mm"}
    plain = question.model_dump(exclude={"name", "band"})
    for side in ("a", "b"):
        levels = plain[side]["levels"].items()
        plain[side]["levels"] = {name: at for name, at in levels if baselines[name] != at}
    return plain


@given(question=questions())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_a_link_brings_the_same_question_back(question, small_campaign):
    if question is None or bare(question)["a"] == bare(question)["b"]:
        return
    assert bare(there_and_back(question, small_campaign)) == bare(question)


def test_a_standing_question_travels_by_name(small_campaign):
    for question in small_campaign.questions:
        assert parameters_of(question, small_campaign) == {"question": [question.name]}
        assert there_and_back(question, small_campaign) == question


def test_parts_that_ask_a_standing_question_become_it(small_campaign):
    found = question_from(
        {"a": ["S6"], "a.leader": ["wire 2 m"], "b": ["S6"], "seabed": ["firm sand"]},
        small_campaign,
    )
    assert found == small_campaign.questions[0]


def test_names_with_odd_signs_travel(small_campaign):
    odd = small_campaign.questions[0].model_copy(update={"name": "a&b=c?d#e/ü 100 % +"})
    campaign = small_campaign.model_copy(update={"questions": (odd,), "main_question": None})
    assert there_and_back(odd, campaign) == odd


@pytest.mark.parametrize(
    "parameters",
    [
        {"a": ["X1"], "b": ["S6"]},
        {"a": ["S6"], "b": ["P9"], "seabed": ["moon"]},
        {"a": ["S6"], "a.leader": ["rope"], "b": ["S6"]},
        {"question": ["gone"]},
    ],
)
def test_a_link_with_an_unknown_name_says_what_is_known(parameters, small_campaign):
    with pytest.raises(UnknownName) as caught:
        question_from(parameters, small_campaign)
    assert "Known: " in caught.value.hint


def test_a_link_of_any_length_is_told_in_a_line(small_campaign):
    with pytest.raises(UnknownName) as caught:
        question_from({"question": ["nonsense " * 600]}, small_campaign)
    assert "nonsense" in caught.value.message
    assert len(caught.value.message) < 150


@pytest.mark.parametrize(
    "parameters",
    [
        {"a": ["S6"], "b": ["S6"]},
        {"a": ["S6"]},
        {"a": ["S6"], "b": ["P9"], "measure": ["luck"]},
        {"a": ["S6"], "b": ["P9"], "measure": ["hold"]},
        {"a": ["S6"], "b": ["P9"], "hold_kn": ["much"], "measure": ["hold"]},
        {"a": ["S6"], "b": ["P9"], "hold_kn": ["1e9"], "measure": ["hold"]},
        {"a": ["S6"], "b": ["P9"], "hold_kn": ["-1"], "measure": ["hold"]},
        {"a": ["S6"], "b": ["P9"], "hold_kn": ["nan"], "measure": ["hold"]},
        {"a": ["S6"], "b": ["P9"], "a_scope": ["0"]},
        {"a": ["S6"], "b": ["P9"], "over": ["all"]},
        {"a": ["S6"], "b": ["P9"], "over": ["next"]},
        {"a": ["S6"], "b": ["S6"], "a_scope": ["5"]},  # the usual scope
        {"a": ["S6"], "b": ["P9"], "seabed": ["firm sand", "firm sand"]},
    ],
)
def test_a_link_that_holds_no_question_is_refused(parameters, small_campaign):
    with pytest.raises(InputError, match="does not hold a question"):
        question_from(parameters, small_campaign)


def test_the_part_at_fault_is_named(small_campaign):
    parameters = {"a": ["S6"], "b": ["P9"], "hold_kn": ["1e9"], "measure": ["hold"]}
    with pytest.raises(InputError) as caught:
        question_from(parameters, small_campaign)
    assert "hold_kn: write up to 1000." in caught.value.hint


def test_keys_nobody_knows_are_passed_over(small_campaign):
    found = question_from({"a": ["S6"], "b": ["P9"], "utm": ["x"]}, small_campaign)
    assert (found.a.anchor, found.b.anchor) == ("S6", "P9")
