import dataclasses
import json
import re

import pytest

from model.base.errors import FitFailed
from model.questions.answer import Estimate, Together
from model.records.answer import Flag, Interval, NotYet
from model.records.question import Measure


def said(at):
    """Everything a page says, without the signs that only keep text from being markup."""
    kinds = ("title", "markdown", "caption", "info", "error", "warning")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


def link_of(at):
    return dict(at.query_params)


def test_it_opens_on_the_main_question(page, made_up_data):
    at = page("ask")
    assert made_up_data.asked[-1] == made_up_data.campaign.questions[0]
    assert link_of(at) == {"question": "leader on S6"}
    assert not at.error


def test_words_come_before_pictures_and_every_picture_has_its_table(page):
    at = page("ask")
    order = [element.type for element in at.main]
    assert "vega_lite_chart" in order
    assert "probably does better" in said(at)
    assert len(at.get("vega_lite_chart")) == 3
    labels = [expander.label for expander in at.expander]
    assert [label for label in labels if label.startswith("Table")] == [
        "Table: chances above, inside and below the band",
        "Table: every pull in this picture",
        "Table: every look",
        "Table: each side with its interval",
    ]


def test_it_shows_measures_split_multiples_and_flags(page, made_up_data, made_up_answer):
    question = made_up_data.campaign.questions[0]
    made_up_data.answers[question.name] = made_up_answer(
        question, flags=(Flag(code="x", text="rests on other anchors"),)
    )
    text = said(page("ask"))
    assert "Every measure" in text
    assert "Where the difference comes from" in text
    assert "at least twice what B holds: **3 %**" in text
    assert "at least four times: **under 1 %**" in text
    assert "rests on other anchors" in text


def test_a_chance_has_no_split_and_no_multiples(page):
    text = said(page("ask", question="leader and upright"))
    assert "Where the difference comes from" not in text
    assert "Twice, four times?" not in text
    assert "points" in text


def test_the_next_anchor_is_told_in_chances_out_of_ten(page):
    at = page("ask", over="next", **{"a.leader": "wire 2 m"})
    assert "On the next anchor like these: 9 chances in 10 that A is higher." in said(at)
    assert "chances in 10" not in said(page("ask"))


def test_what_the_two_set_ups_say_alone_stands_beside_the_answer(page):
    alone = "By the pulls of these two set-ups alone, without modes: "
    assert alone in said(page("ask", a="S6", b="P9"))
    in_general = page("ask", over="next", **{"a.leader": "wire 2 m"})
    assert alone not in said(in_general)  # there are no two set-ups


def test_why_own_pulls_alone_say_nothing_stands_in_their_place(page, made_up_data, made_up_answer):
    assert "Nothing by own pulls alone" not in said(page("ask"))
    question = made_up_data.campaign.questions[0]
    found = made_up_answer(question)
    made_up_data.answers[question.name] = dataclasses.replace(
        found, alone=None, not_alone="no pull of B tells of it"
    )
    assert "Nothing by own pulls alone: no pull of B tells of it." in said(page("ask"))


def test_what_two_changes_do_together_stands_beside_the_answer(page, made_up_data, made_up_answer):
    words = "What both changes do together, beyond what each does by itself: "
    assert words not in said(page("ask"))
    question = made_up_data.campaign.questions[0]
    found = made_up_answer(question)
    both = Together(names=("leader=wire 2 m & chain=6 mm",), effect=found.split.load, p_higher=0.63)
    made_up_data.answers[question.name] = dataclasses.replace(found, together=both)
    text = said(page("ask"))
    assert words in text
    assert "above none 63 % (leader=wire 2 m & chain=6 mm)." in text


def test_an_answer_without_flags_says_so_and_no_more(page):
    assert "No flags." in said(page("ask"))
    assert "leaning on this answer" not in said(page("ask"))


def test_what_the_model_has_no_effect_of_shows_no_figure(page, made_up_data, made_up_answer):
    question = made_up_data.campaign.questions[0]
    answer = made_up_answer(question)
    nothing = Estimate(median=0.0, interval=Interval(prob=0.9, lower=0.0, upper=0.0), unit="chance")
    rows = tuple(
        dataclasses.replace(row, effect=nothing, p_higher=0.5)
        if row.measure is Measure.RESETS else row for row in answer.measures
    )  # fmt: skip
    made_up_data.answers[question.name] = dataclasses.replace(answer, measures=rows)
    shown = next(table.value for table in page("ask").table if "measure" in table.value)
    resets = shown.set_index("measure").loc["digs in again, %"]
    assert (resets["A against B"], resets["A higher"]) == ("not in the model", "–")
    assert list(shown["A against B"]).count("not in the model") == 1


def test_void_pulls_are_listed(page):
    at = page("ask", a="S6", b="P9")
    assert "Void, not drawn and not used: B day 1/8 (fouled on old line)" in said(at)


def test_the_question_stands_in_words_and_its_choosers_are_folded(page):
    at = page("ask")
    text = said(at)
    assert "## leader on S6" in text
    assert (
        "Compare the **typical load at the first release** of :blue[**A**] S6 with leader: "
        "wire 2 m with that of :orange[**B**] S6 with leader: chain only, on firm sand." in text
    )
    choosers = next(one for one in at.expander if one.label == "Change the question")
    assert not choosers.proto.expanded
    assert choosers.selectbox[0].key == "measure"
    at.selectbox(key="A anchor").select("any anchor").run()
    assert "on firm sand, over this campaign's anchors." in said(at)


@pytest.mark.parametrize("broken", [{"a": "X1", "b": "S6"}, {"a": "S6", "b": "S6"}])
def test_a_link_that_holds_no_question_unfolds_the_choosers_for_good(page, broken):
    at = page("ask", **broken)
    for _ in range(2):  # folded again at the first choice, they would snap shut on a hand
        choosers = next(one for one in at.expander if one.label == "Change the question")
        assert choosers.proto.expanded
        at.selectbox(key="A level chain").select("chain: 6 mm").run()


def test_every_measure_is_offered(page):
    offered = page("ask").selectbox(key="measure").options
    assert len(set(offered)) == len(Measure)
    asked = page("ask", a="S6", b="P9", measure="buried")
    assert asked.selectbox(key="measure").value == "length of rode buried"


def test_the_usual_scope_stands_in_its_box_and_is_no_part_of_the_question(page, made_up_data):
    at = page("ask")
    usual = made_up_data.campaign.usual_scope
    assert at.number_input(key="A scope").value == usual
    assert made_up_data.asked[-1].a.scope is None
    at.number_input(key="A scope").set_value(usual + 2).run()
    assert made_up_data.asked[-1].a.scope == usual + 2
    at.number_input(key="A scope").set_value(usual).run()
    assert made_up_data.asked[-1].a.scope is None


def test_a_usual_scope_that_is_named_on_purpose_stays(page, made_up_data):
    usual = made_up_data.campaign.usual_scope
    page("ask", a="S6", b="P9", a_scope=f"{usual:g}")
    assert made_up_data.asked[-1].a.scope == usual


def _table_of_measures(at):
    return next(table.value for table in at.table if "A higher" in table.value)


def test_every_measure_has_three_digits_and_its_unit_once(page):
    shown = _table_of_measures(page("ask")).set_index("measure")
    for side in ("A", "B"):
        assert re.fullmatch(r"\d\.\d\d", shown.loc["typical load, kN", side])
        assert re.fullmatch(r"\d\d", shown.loc["sets upright, %", side])
    for cell in shown["A against B"]:
        assert re.fullmatch(r"\S+\u00a0(×|points) \(\S+\u00a0to\u00a0\S+\)", cell)


def test_the_measure_that_was_asked_for_is_in_the_table(page):
    shown = _table_of_measures(page("ask", question="S6 or P9 at 3 kN"))
    assert list(shown["measure"]).count("holds 3\u00a0kN, %") == 1
    assert shown["measure"].iloc[0].startswith("holds")
    typical = list(_table_of_measures(page("ask"))["measure"])
    assert typical[0] == "typical load, kN"
    assert not [words for words in typical if words.startswith("holds")]


def test_the_next_pull_has_no_curve_but_says_how_often_it_does_not_set(page, made_up_data):
    at = page("ask", a="S6", b="P9", measure="next")
    text = said(at)
    assert made_up_data.asked[-1].measure is Measure.NEXT
    assert "## One more pull of each" in text
    assert re.search(r"A does not set: .*%; B does not set: .*%\.", text)
    assert "How large the difference may be" not in text
    assert "Twice, four times?" not in text


def test_one_look_is_said_without_repeating_the_heading(page, made_up_data, some_looks):
    made_up_data.all_looks = some_looks[:1]
    text = said(page("ask"))
    assert text.count("How it moved") == 1
    assert "One look so far, at 4 pulls." in text


def test_no_cell_of_a_table_behind_is_cut_off(page):
    frames = page("ask").dataframe
    assert len(frames) == 3
    for frame in frames:
        widths = {
            name: column["width"]
            for name, column in json.loads(frame.proto.columns).items()
            if name in frame.value
        }
        longest = {
            name: max(len(name), frame.value[name].astype(str).str.len().max())
            for name in frame.value
        }
        assert all(widths[name] >= 8 * longest[name] for name in longest)


def test_choosing_a_level_asks_and_changes_the_link(page, made_up_data):
    at = page("ask")
    at.selectbox(key="A level chain").select("chain: 6 mm").run()
    assert made_up_data.asked[-1].a.levels == {"leader": "wire 2 m", "chain": "6 mm"}
    assert link_of(at) == {
        "a": "S6",
        "a.leader": "wire 2 m",
        "a.chain": "6 mm",
        "b": "S6",
        "measure": "typical",
        "seabed": "firm sand",
    }


def test_a_link_opens_the_question_it_holds(page, made_up_data):
    first = page("ask")
    first.selectbox(key="A anchor").select("P9").run()
    first.selectbox(key="measure").select("chance to hold a load").run()
    first.number_input(key="hold").set_value(2.5).run()
    first.number_input(key="B scope").set_value(7.0).run()
    first.multiselect(key="seabeds").select("soft mud").run()
    asked = made_up_data.asked[-1]
    assert (asked.a.anchor, asked.hold_kn, asked.b.scope) == ("P9", 2.5, 7.0)
    page("ask", **link_of(first))
    assert made_up_data.asked[-1] == asked


def test_in_general_takes_the_anchor_from_both_sides(page, made_up_data):
    at = page("ask")
    at.selectbox(key="A anchor").select("any anchor").run()
    asked = made_up_data.asked[-1]
    assert (asked.a.anchor, asked.b.anchor) == (None, None)
    at.selectbox(key="over").select("for the next anchor like these").run()
    assert made_up_data.asked[-1].over == "next"


def test_a_load_is_asked_for_in_the_campaigns_own_unit(page, made_up_data):
    made_up_data.campaign = made_up_data.campaign.model_copy(update={"load_unit": "kgf"})
    at = page("ask", a="S6", b="P9", measure="hold", hold_kn="3")
    assert at.number_input(key="hold").value == pytest.approx(305.9)
    assert "kgf" in said(at)


def test_opening_a_standing_hold_question_asks_exactly_it(page, made_up_data):
    for unit in ("kn", "lbf"):
        made_up_data.campaign = made_up_data.campaign.model_copy(update={"load_unit": unit})
        page("ask", question="S6 or P9 at 3 kN")
        assert made_up_data.asked[-1].name == "S6 or P9 at 3 kN"
        assert made_up_data.asked[-1].measure is Measure.HOLD


def test_both_sides_alike_is_refused_with_a_way_out(page):
    at = page("ask")
    at.selectbox(key="A level leader").select("leader: chain only").run()
    assert "both sides are the same set-up" in said(at)
    assert "Change one side of the sentence" in said(at)
    assert not at.get("vega_lite_chart")


def test_a_link_with_an_unknown_name_says_so_and_starts_anew(page, made_up_data):
    at = page("ask", a="X1", b="S6")
    assert "unknown anchor 'X1'" in said(at)
    assert "Another question is shown in its place." in said(at)
    assert made_up_data.asked[-1].name == "leader on S6"


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (NotYet(question="q", reason="two pulls only", hint="Pull more."), "two pulls only"),
        (FitFailed("12 divergences", hint="Run `kedgewise fit`."), "12 divergences"),
        (RuntimeError("unforeseen"), "could not be shown"),
    ],
)
def test_without_an_answer_the_sentence_stays(page, made_up_data, outcome, words):
    made_up_data.answers["leader on S6"] = outcome
    at = page("ask")
    assert not at.exception
    assert words in said(at)
    assert at.selectbox(key="measure").value == "typical load at the first release"
    assert not at.get("vega_lite_chart")


def test_a_broken_picture_leaves_the_other_cards(page, monkeypatch):
    def broken(answer):
        raise RuntimeError("no picture")

    monkeypatch.setattr("app.parts.pictures.effect_figure_of", broken)
    at = page("ask")
    assert "could not be shown" in said(at)
    assert "Every measure" in said(at)
    assert len(at.get("vega_lite_chart")) == 2


def test_a_campaign_without_questions_can_still_ask(page, made_up_data):
    made_up_data.campaign = made_up_data.campaign.model_copy(
        update={"questions": (), "main_question": None}
    )
    page("ask")
    asked = made_up_data.asked[-1]
    assert asked.a.levels == {"leader": "wire 2 m"}
    assert asked.b.levels == {}


def test_nasty_names_of_anchors_and_levels_stay_text(page, made_up_data, small_campaign):
    nasty = "<b>x</b> :red[y] $z$"
    anchor = small_campaign.anchors[0].model_copy(update={"code": nasty})
    made_up_data.campaign = small_campaign.model_copy(
        update={
            "anchors": (anchor, small_campaign.anchors[1]),
            "questions": (),
            "main_question": None,
        }
    )
    at = page("ask")
    assert not at.exception
    raw = [element.value for kind in ("markdown", "caption") for element in at.get(kind)]
    assert any("red" in value for value in raw)
    assert not [value for value in raw if "<b>" in value or ":red[" in value]


def test_a_link_with_nothing_but_foreign_keys_holds_no_question(page, made_up_data):
    at = page("ask", utm_source="mail", zz="1")
    assert not at.error
    assert made_up_data.asked[-1] == made_up_data.campaign.questions[0]


@pytest.mark.parametrize("hold_kn", ["3e-4", "1e-9"])
def test_the_smallest_load_to_hold_may_be_asked(page, hold_kn):
    at = page("ask", a="S6", b="P9", measure="hold", hold_kn=hold_kn)
    assert not at.exception
    assert not at.error


def test_where_there_is_nothing_to_compare_it_says_so(page, made_up_data):
    made_up_data.campaign = made_up_data.campaign.model_copy(
        update={
            "anchors": made_up_data.campaign.anchors[:1],
            "treatments": (),
            "questions": (),
            "main_question": None,
        }
    )
    at = page("ask")
    assert "there is nothing to compare" in said(at)
    assert not at.exception
