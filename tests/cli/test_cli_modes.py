import re

import pytest

from app.modes_text import BITE_COLUMNS, COURSE_COLUMNS, NEXT_COLUMNS, SETUP_COLUMNS
from model.base.errors import FitFailed
from model.questions.mode_sentences import courses_words
from model.questions.whole_pulls import Course, WholePulls


def words_of(text):
    return re.sub(r"\s+", " ", text)


def test_four_tables_in_80_columns(fitted):
    found = fitted("modes")
    words = words_of(found.out)
    assert found.code == 0
    assert max(len(line) for line in found.out.splitlines()) <= 80
    for heading in (*SETUP_COLUMNS, *NEXT_COLUMNS, *COURSE_COLUMNS, *BITE_COLUMNS):
        assert heading.split()[0] in words
    assert "S6 on firm sand" in words
    assert "in brackets the 90 % equal-tailed interval" in words
    assert "day 2/1, bite 2" in words
    assert re.search(r"set-up \d+ → load \d+\s*\n", found.out)
    assert re.search(r"→ camera \d+\s*\n", found.out)
    assert "no design holding power" in words
    assert "The pulls of this campaign are invented." in words
    assert "nan" not in found.out.casefold()


def test_a_set_up_seen_one_way_only_is_not_said_never_to_vary(
    kedgewise, campaign_file, small_pulls, small_campaign, tmp_path
):
    from model.ingest.log_writer import write_log

    upright = [pull for pull in small_pulls if pull.bites[0].mode == "upright"]
    write_log(upright, small_campaign, tmp_path / "up.csv")
    for arguments in (("new", str(campaign_file)), ("import", "up.csv"), ("fit",)):
        assert kedgewise(*arguments).code == 0
    words = words_of(kedgewise("modes").out)
    assert "S6 on firm sand, leader: wire 2 m: Never seen on its side, yet" in words
    assert re.search(
        r"that stays possible: (under )?\d+ (% )?to (over )?\d+ % of pulls that set", words
    )
    assert "never varies" not in words


def test_what_the_next_pull_would_do_leaves_nothing_out(fitted):
    lines = fitted("modes", "--anchor", "S6", "--seabed", "firm sand").out.splitlines()
    after = lines[next(i for i, line in enumerate(lines) if "Next pull" in line) :]
    row = next(line for line in after if line.strip().startswith("leader: wire 2 m"))
    slips, *ends = re.findall(r"(<?>?\d+)\s% ?", row)
    assert len(ends) == 3
    assert all(one.strip("<>").isdigit() for one in (slips, *ends))
    assert sum(int(one) for one in ends if one.isdigit()) == pytest.approx(100, abs=2)
    assert any("up the ladder steps" in line for line in after)


def test_only_one_anchor_or_seabed(fitted):
    found = words_of(fitted("modes", "--anchor", "p9", "--seabed", "soft mud").out)
    assert "P9 on soft mud" in found
    assert "S6" not in found
    assert "P9 on firm sand" not in found


def test_set_ups_never_pulled_are_predicted_on_wish_and_marked(fitted):
    before = fitted("modes").out
    assert "chain: 6 mm" not in before
    assert "Changes made together" not in before
    found = words_of(fitted("modes", "--untried").out)
    assert re.search(r"chain: 6 mm \d+ % \(.{1,40} none –", found)
    assert "Pulls none: never pulled, predicted from other set-ups." in found
    assert "Changes made together count as the sum" in found
    setups = fitted("modes", "--untried", "--json").json["setups"]
    both = [one for one in setups if one["levels"] == {"leader": "wire 2 m", "chain": "6 mm"}]
    assert [(one["anchor"], one["seabed"]) for one in both] == [
        (anchor, seabed) for anchor in ("S6", "P9") for seabed in ("firm sand", "soft mud")
    ]
    assert all(one["is_predicted"] and one["pulls"]["count"] == 0 for one in both)


def test_the_likeliest_courses_stand_in_the_terminal_in_the_words_of_the_page(
    fitted, small_campaign
):
    arguments = ("modes", "--anchor", "S6", "--seabed", "firm sand")
    out = fitted(*arguments).out
    assert max(len(line) for line in out.splitlines()) <= 80
    lines = out.splitlines()
    first = next(i for i, line in enumerate(lines) if "Likeliest courses" in line)
    # The second column alone: set-ups stand in the first, and go on below when they are long.
    start = lines[first].index("Likeliest courses")
    column = words_of(" ".join(line[start:] for line in lines[first + 1 :]))
    setups = fitted(*arguments, "--json").json["setups"]
    assert len(setups) == 2
    for one in setups:
        courses = tuple(Course(**course) for course in one["whole_pull"].pop("courses"))
        whole = WholePulls(**one["whole_pull"], courses=courses)
        assert len(courses) > 1
        assert courses_words(whole, small_campaign) in column


def test_nothing_pulled_there_says_what_to_do(fitted, campaign_file):
    with campaign_file.open("a") as file:
        file.write('[[anchors]]\ncode = "C7"\nmass_kg = 7.5\n')
    assert fitted("new", str(campaign_file)).code == 0
    before = fitted("modes", "--anchor", "C7")
    assert (before.code, before.out) == (1, "")
    assert "the newest fit does not know the anchor C7" in before.err
    assert fitted("fit").code == 0
    found = fitted("modes", "--anchor", "C7")
    assert (found.code, "With --untried it is predicted" in found.out) == (0, True)
    assert "no design holding power" in words_of(found.out)


def test_as_json(fitted):
    found = fitted("modes", "--json").json
    assert set(found) == {"setups", "pulls", "posterior"}
    wire = found["setups"][1]
    assert (wire["anchor"], wire["seabed"], wire["scope"]) == ("S6", "firm sand", 5.0)
    assert wire["levels"] == {"leader": "wire 2 m", "chain": "8 mm"}
    assert wire["pulls"] == {
        "count": 4, "seen_upright": 3, "seen_on_side": 1, "not_seen": 0, "never_set": 0,
    }  # fmt: skip
    for name in ("p_upright", "p_sets", "p_resets"):
        interval = wire[name]["interval"]
        assert 0 < interval["lower"] < wire[name]["median"] < interval["upper"] < 1
        assert interval["prob"] == 0.9
    assert not wire["is_predicted"]
    slip = next(one for one in found["pulls"] if (one["pull"], one["bite"]) == ("day 2/1", 2))
    assert (slip["seen"], slip["ending"]) == ("upright", "held")
    assert list(slip["moved_by"]) == list(slip["p_after"]) == ["set-up", "load", "camera"]
    assert sum(slip["moved_by"].values()) == pytest.approx(slip["p_upright"])
    assert slip["words"].startswith("Pull day 2/1, bite 2: ")
    assert found["posterior"]["pulls"] == 15


def test_unknown_names_are_bad_input(fitted):
    found = fitted("modes", "--anchor", "X1", "--json")
    assert (found.code, found.json["error"]) == (2, "the campaign has no anchor 'X1'")
    assert found.json["hint"] == "Known: S6, P9."


def test_before_the_first_fit(kedgewise, campaign_file, log_file):
    kedgewise("new", str(campaign_file))
    assert "the store holds no pulls" in kedgewise("modes").err
    kedgewise("import", str(log_file))
    found = kedgewise("modes", "--store", "./store")
    assert (found.code, found.out) == (1, "")
    assert "nothing was fitted yet" in found.err
    assert "`kedgewise fit --store ./store`" in found.err


def test_a_failed_fit_is_exit_3(kedgewise, campaign_file, log_file, fitter):
    kedgewise("new", str(campaign_file))
    kedgewise("import", str(log_file))
    fitter.status = "failed"
    assert kedgewise("fit").code == FitFailed.exit_code
    found = kedgewise("modes", "--json")
    assert found.code == 3
    assert "12 divergences" in found.json["error"]


def test_pulls_that_came_after_the_fit_are_said(fitted, small_pulls, tmp_path):
    from model.store.store import Store

    Store.open(tmp_path / "store").add_pulls(
        [small_pulls[0].model_copy(update={"code": "77"})], "more.csv"
    )
    found = fitted("modes")
    assert "These answers rest on 15 of 16 pulls" in found.err
    assert "day 1/77" not in found.out


def test_a_campaign_that_was_changed_after_the_fit_is_said(fitted, small_campaign, tmp_path):
    from model.store.store import Store

    assert "has changed since the fit" not in fitted("modes").err
    s6, *others = small_campaign.anchors
    heavier = s6.model_copy(update={"mass_kg": 2 * s6.mass_kg})
    changed = small_campaign.model_copy(update={"anchors": (heavier, *others)})
    Store.open(tmp_path / "store").replace_campaign(changed)
    for command in (("modes",), ("ask", "leader")):
        assert "has changed since the fit" in words_of(fitted(*command).err)


def test_a_bite_at_odds_with_its_note_is_marked(fitted, monkeypatch):
    from model.questions.bite_modes import BiteModes

    assert "likelier the other" not in fitted("modes").out
    monkeypatch.setattr(BiteModes, "is_at_odds", property(lambda one: one.pull == "day 1/1"))
    found = fitted("modes").out
    assert found.count("% !") == 1
    assert "!: noted one way, likelier the other" in words_of(found)
