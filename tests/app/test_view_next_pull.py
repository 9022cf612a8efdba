import pytest

from app.figures.settling import LINES, describe, settling_figure, settling_table
from app.parts.kept import OUTDATED
from app.parts.ranking import short_table
from model.base.errors import FitFailed, InputError
from model.planning.ranking import rank
from model.records.answer import NotYet
from model.service.next_pulls import next_pulls
from model.service.planning_start import Wish
from model.service.rehearsals import rehearse_question


def said(at):
    kinds = ("title", "markdown", "caption", "info", "error", "warning")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


def pressed(at, label):
    return at.button(key=label).click().run()


@pytest.fixture
def rehearsed(planned_store):
    return rehearse_question(
        planned_store(), Wish(), n_campaign=10, most_pulls=8, hours=2, has_effects=False
    ).by_policy


def test_words_first_then_the_ranking_and_nothing_rehearsed(page, made_up_data):
    at = page("next_pull")
    text = said(at)
    assert not at.exception
    assert not at.error
    assert "## Pull next, both on one day: " in text
    assert "takes away" in text
    assert "For leader on S6. Assumed: ladder steps" in text
    assert "full, 15 pulls, fit check passed" in text
    assert len(at.table) == 1
    labels = [expander.label for expander in at.expander]
    for label in ("Why each stands where it is", "Table: more pairs", "Table: single pulls"):
        assert label in labels
    assert made_up_data.rehearsed == 0


def test_choices_reach_the_plan(page, made_up_data):
    at = page("next_pull")
    at.multiselect(key="planned questions").set_value(["leader on S6", "leader"]).run()
    at.multiselect(key="not aboard").set_value(["anchor=P9", "seabed=soft mud"]).run()
    at.selectbox(key="camera").select("no").run()
    at.selectbox(key="today").select("day 2").run()
    assert not at.error
    assert made_up_data.wishes[-1] == Wish(
        questions=("leader on S6", "leader"),
        without=("anchor=P9", "seabed=soft mud"),
        has_camera=False,
        today="day 2",
    )
    assert "how it sets will not be seen" in said(at)


def test_everything_ruled_out_is_said_and_the_choices_stay(page):
    at = page("next_pull")
    at.multiselect(key="not aboard").set_value(["anchor=S6", "anchor=P9"]).run()
    assert "nothing is left to pull" in said(at)
    assert at.multiselect(key="not aboard").value == ["anchor=S6", "anchor=P9"]
    at.multiselect(key="not aboard").set_value(["anchor=P9"]).run()
    assert "nothing is left to pull" not in said(at)


def test_a_rehearsal_on_a_button_stays_until_something_changes(page, made_up_data):
    at = page("next_pull")
    at.number_input(key="hours").set_value(2.0).run()
    pressed(at, "Rehearse two days")
    text = said(at)
    assert not at.exception
    assert "of 10 rehearsed campaigns" in text
    assert "After all pulls: " in text
    assert len(at.get("vega_lite_chart")) == 1
    at.run()
    assert made_up_data.rehearsed == 1
    assert "of 10 rehearsed campaigns" in said(at)
    at.selectbox(key="camera").select("no").run()
    assert OUTDATED in said(at)
    assert "of 10 rehearsed campaigns" not in said(at)


def test_a_rehearsal_from_before_the_newest_pulls_is_not_shown(page, made_up_data):
    at = page("next_pull")
    at.number_input(key="hours").set_value(2.0).run()
    pressed(at, "Rehearse two days")
    made_up_data.seen = "news"
    at.run()
    assert OUTDATED in said(at)


def test_a_day_on_a_button_with_a_page_to_print(page):
    at = page("next_pull")
    at.number_input(key="hours").set_value(2.0).run()
    pressed(at, "Plan the day")
    text = said(at)
    assert not at.exception
    assert "h of 2:00 h: the chance that they settle leader on S6" in text
    assert "Bold: to change before the pull." in text
    assert "kept for this day" in text
    plan = at.table[-1].value
    assert list(plan.columns) == ["at", "pull", "change", "patch"]
    assert plan["change"].iloc[0] == "**make ready**"
    assert [button.proto.label for button in at.get("download_button")] == [
        "Download the page to print"
    ]


def test_not_yet_and_a_failure_are_said(page, made_up_data, monkeypatch):
    made_up_data.planning = NotYet(question="x", reason="no fit yet", hint="Run `kedgewise fit`.")
    text = said(page("next_pull"))
    assert "**Not yet:** no fit yet" in text
    assert "Chance to settle" not in text

    def fails():
        raise FitFailed("the draws are gone", hint="Run it again.")

    made_up_data.planning = fails
    assert "the draws are gone" in said(page("next_pull"))


def test_a_paired_device_reads_the_ranking_alone(page, monkeypatch):
    from app import data

    monkeypatch.setattr(data, "may_change", lambda: False)
    at = page("next_pull")
    assert "Pull next" in said(at)
    assert "on the machine that has the store" in said(at)
    assert [button.label for button in at.button] == []


def test_a_device_may_not_have_the_machine_work(monkeypatch):
    from app import data
    from app.doors.rights import Rights

    monkeypatch.setattr("app.doors.rights.rights", lambda: Rights.LOG_AND_READ)
    for work in (lambda: data.plan_day(Wish(), 2), lambda: data.rehearse(Wish(), 2, 8)):
        with pytest.raises(InputError, match="paired device"):
            work()


def test_names_are_text_in_the_table(planned_store, small_campaign):
    ranking = next_pulls(planned_store(), Wish(), has_outlook=False).ranking
    nasty = small_campaign.model_copy(update={"usual_scope": 4.0})
    cells = short_table("two on one day", ranking.pairs[:2], nasty)["two on one day"]
    assert all("scope 5" in cell.replace("\\", "") for cell in cells)
    assert all(":" not in cell.replace("\\:", "") for cell in cells)


def test_the_picture_says_what_its_table_says(rehearsed):
    figure = settling_figure(rehearsed)
    table = settling_table(rehearsed)
    drawn = figure.chart.to_dict()
    assert list(table.columns) == ["pulls", *(one.policy for one in rehearsed)]
    assert len(table) == 8
    assert figure.description == describe(rehearsed)
    axes = str(drawn)
    assert "pulls from here" in axes
    assert "chance to be settled (%)" in axes
    assert len({str(dashes) for _, dashes in LINES}) == len({color for color, _ in LINES}) == 4


def test_the_ranking_on_the_page_is_the_services(page, made_up_data, planned_store):
    begun = next_pulls(planned_store(), Wish(), has_outlook=False).begun
    shown = page("next_pull").table[0].value
    best = rank(begun.start, tried=begun.tried).pairs[:5]
    assert shown["min"].tolist() == [f"{one.minutes:.0f}" for one in best]
