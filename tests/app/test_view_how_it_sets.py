import dataclasses
import json
import re

import pytest

from app.figures.setting import PREDICTED, setting_figure
from app.parts.setting import setting_table
from model.base.errors import FitFailed
from model.questions.bite_modes import Step
from model.records.answer import NotYet

NASTY = "<b>x</b> :red[alarm] $y$ ![p](http://example.invalid/p.png) -> **z**"


def said(at):
    """Everything a page says, without the signs that only keep text from being markup."""
    kinds = ("title", "markdown", "caption", "info", "error", "warning")
    joined = "\n".join(element.value for kind in kinds for element in at.get(kind))
    return joined.replace("\\", "").replace("\u2060", "").replace("\u00a0", " ")


def of_place(modes, anchor="S6", seabed="firm sand"):
    return [
        one for one in modes.set_ups if (one.place.anchor, one.place.seabed) == (anchor, seabed)
    ]


def test_each_anchor_on_each_seabed_has_its_card_with_picture_and_table(page):
    at = page("how_it_sets")
    text = said(at)
    assert not at.exception
    assert not at.error
    places = [
        f"{anchor} on {seabed}" for anchor in ("S6", "P9") for seabed in ("firm sand", "soft mud")
    ]
    assert [
        line.removeprefix("## ") for line in text.splitlines() if line.startswith("## ")
    ] == places
    assert len(at.get("vega_lite_chart")) == 4
    labels = [expander.label.replace("\\", "").replace("\u2060", "") for expander in at.expander]
    for place in places:
        assert f"Table: every set-up of {place}" in labels
        assert f"Each pull of {place}, and what moved it" in labels
    assert "90 % equal-tailed interval" in text


def test_words_come_first(page, made_up_modes):
    text = said(page("how_it_sets"))
    one = of_place(made_up_modes[False])[1]
    chance = round(100 * one.p_upright.median)
    line = next(line for line in text.splitlines() if line.startswith("- **leader: wire 2 m**"))
    assert line.startswith(f"- **leader: wire 2 m**: {chance} % (")
    assert "4 pulls: 3 upright, 1 on its side." in line


def test_each_pull_says_what_moved_it(page, made_up_modes):
    text = said(page("how_it_sets"))
    assert text.count("- Pull ") == len(made_up_modes[False].bites)
    assert "- Pull day 2/1, bite 2: " in text
    assert "% from its set-up, " in text
    assert "% with its load, " in text
    assert "% with what was seen (upright)" in text


def test_one_way_seen_is_not_said_never_to_vary(page):
    text = said(page("how_it_sets"))
    assert "1 pull, on its side. Never seen upright, yet that stays possible: " in text
    assert "How it sets is told from its loads" in text
    assert not re.search(r"[.%]\.\S|%\.\d", text)


def test_choosing_an_anchor_and_a_seabed(page):
    at = page("how_it_sets")
    at.selectbox(key="Anchor").select("P9").run()
    at.selectbox(key="Seabed").select("soft mud").run()
    text = said(at)
    assert "## P9 on soft mud" in text
    assert "## P9 on firm sand" not in text
    assert "## S6" not in text
    assert len(at.get("vega_lite_chart")) == 1


def test_set_ups_never_pulled_on_wish(page):
    at = page("how_it_sets")
    assert "Never pulled" not in said(at)
    assert "Changes made together" not in said(at)
    at.toggle(key="untried").set_value(True).run()
    text = said(at)
    assert text.count("- **chain: 6 mm**") == 2 * 4  # how it sets, and its next pull
    assert text.count("- **leader: wire 2 m, chain: 6 mm**") == 2 * 4
    assert text.count("Never pulled: predicted from other set-ups.") == 2 * 4
    assert "Changes made together count as the sum of what each does alone" in text
    assert "Hollow and grey: never pulled" in text


def test_pulls_that_read_otherwise_come_first(page, made_up_data):
    assert "## Look again" not in said(page("how_it_sets"))
    modes = made_up_data.all_modes[False]
    odd = dataclasses.replace(modes.bites[1], steps=(Step(part="set-up", p_upright=0.2),))
    bites = (modes.bites[0], odd, *modes.bites[2:])
    made_up_data.all_modes = {False: dataclasses.replace(modes, bites=bites)}
    text = said(page("how_it_sets"))
    assert text.index("## Look again") < text.index("## S6 on firm sand")
    assert text.count("Pull day 1/2: 20 % upright: 20 % from its set-up") == 2


def test_not_yet(page, made_up_data):
    made_up_data.all_modes = NotYet(question="how it sets", reason="no fit", hint="`kedgewise fit`")
    at = page("how_it_sets")
    text = said(at)
    assert not at.exception
    assert "**Not yet:** no fit" in text
    assert not at.get("vega_lite_chart")
    assert not at.selectbox
    assert "recoil" in text


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FitFailed("12 divergences", hint="Fit again."), "**Failed:** 12 divergences"),
        (RuntimeError("unforeseen"), "could not be shown"),
    ],
)
def test_failed(page, made_up_data, error, words):
    made_up_data.all_modes = error
    at = page("how_it_sets")
    text = said(at)
    assert not at.exception
    assert words in text
    assert "unforeseen" not in text
    assert not at.get("vega_lite_chart")
    assert "recoil" in text


def test_a_broken_picture_leaves_the_words(page, monkeypatch):
    def broken(*_):
        raise RuntimeError("no picture")

    monkeypatch.setattr("app.parts.setting.setting_figure", broken)
    text = said(page("how_it_sets"))
    assert text.count("could not be shown") == 4
    assert text.count("- **leader: wire 2 m**") == 2 * 4


def test_the_picture_goes_from_0_to_100_per_cent_and_describes_itself(
    made_up_modes, small_campaign
):
    figure = setting_figure(of_place(made_up_modes[True]), small_campaign)
    text = json.dumps(figure.chart.to_dict(), ensure_ascii=False)
    assert '"domain": [0, 100]' in text
    assert "chance to set upright (%)" in text
    assert PREDICTED in text
    said = figure.description.replace("\u00a0", " ")
    assert said.startswith("Chance that S6 sets upright on firm sand, with 90 % equal-tailed")
    assert said.count("never pulled") == 2


def test_the_table_holds_every_figure(made_up_modes, small_campaign):
    table = setting_table(of_place(made_up_modes[False]), small_campaign)
    assert table["set-up"].tolist() == ["baseline", "leader: wire 2 m"]
    assert table["pulls"].tolist() == [5, 4]
    assert table["seen upright"].tolist() == [2, 3]
    assert table["load upright"].str.contains("kN").all()


def test_nasty_names_stay_text(page, made_up_data, require_no_markup):
    modes = made_up_data.all_modes[False]
    levels = modes.set_ups[0].place.levels | {"leader": NASTY}
    place = dataclasses.replace(modes.set_ups[0].place, anchor=NASTY, levels=levels)
    odd = dataclasses.replace(modes.set_ups[0], place=place)
    bite = dataclasses.replace(modes.bites[0], place=place, pull=NASTY)
    made_up_data.all_modes = {False: dataclasses.replace(modes, set_ups=(odd,), bites=(bite,))}
    at = page("how_it_sets")
    assert not at.exception
    raw = [element.value for kind in ("markdown", "caption") for element in at.get(kind)]
    raw += [expander.label for expander in at.expander]
    raw += [cell for table in at.table for cell in table.value.iloc[:, 0]]  # Markdown, too
    assert sum("alarm" in value for value in raw) >= 6
    require_no_markup(raw)


def test_the_next_pull_is_foretold_in_words(page):
    at = page("how_it_sets")
    assert said(at).count("Likeliest courses:") == 4
    assert said(at).count("up the ladder steps") == 4
    tables = [one.value for one in at.table if "never sets, %" in one.value]
    assert len(tables) == 4
    for table in tables:
        assert list(table.columns)[1:] == ["slips, %", "holds, %", "lets go, %", "never sets, %"]
