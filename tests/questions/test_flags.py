"""Each flag appears where it should, alone, and nowhere else."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from model.posterior.posterior import LOG_LIKELIHOOD
from model.questions.ask import answer
from model.records.campaign import Boat
from model.records.pull import Bite, BuriedRode, Ending, Start
from model.records.question import Band, Measure, Question, SetUp

WIRE = {"leader": "wire 2 m"}
ON_S6 = Question(
    name="leader on S6", a=SetUp(anchor="S6", levels=WIRE), b=SetUp(anchor="S6"),
    seabeds=("firm sand",),
)  # fmt: skip


def _is_a(pull):
    return (pull.anchor, pull.seabed, pull.levels["leader"]) == ("S6", "firm sand", "wire 2 m")


def _fewer_of_a(n):
    def change(pulls):
        a = [pull for pull in pulls if _is_a(pull)]
        return [pull for pull in pulls if pull not in a[n:]]

    return change


def _a_on_the_first_day(pulls):
    return [
        pull.model_copy(update={"outing": "day 1" if _is_a(pull) else "day 2"}) for pull in pulls
    ]


def _a_always_holds(pulls):
    held = Bite(number=1, ending=Ending.HELD, load_kn=4.6, held_s=60.0, mode="upright")
    return [pull.model_copy(update={"bites": (held,)}) if _is_a(pull) else pull for pull in pulls]


def _no_mode_seen(pulls):
    return [
        pull.model_copy(
            update={"bites": tuple(bite.model_copy(update={"mode": None}) for bite in pull.bites)}
        )
        for pull in pulls
    ]


def _one_at_scope_7(pulls):
    first = next(pull for pull in pulls if _is_a(pull))
    return [pull.model_copy(update={"scope": 7.0}) if pull is first else pull for pull in pulls]


def _all_measured(pulls):
    read = BuriedRode(kind="reading", length_m=0.6, resolution_m=0.1)
    return [
        pull.model_copy(
            update={"bites": tuple(bite.model_copy(update={"buried": read}) for bite in pull.bites)}
        )
        for pull in pulls
    ]


def _measured_on_firm_sand(pulls):
    measured = {pull.id: pull for pull in _all_measured(pulls)}
    return [measured[pull.id] if pull.seabed == "firm sand" else pull for pull in pulls]


def _void_measured_on_soft_mud(pulls):
    """Beside those on firm sand one more that is spoilt, and tells nothing."""
    measured = _measured_on_firm_sand(pulls)
    mud = next(pull for pull in _all_measured(pulls) if pull.seabed == "soft mud")
    void = mud.bites[0].model_copy(update={"ending": Ending.VOID})
    return [mud.model_copy(update={"bites": (void,)}) if one.id == mud.id else one
            for one in measured]  # fmt: skip


def _all_turned(pulls):
    turned = Bite(number=2, start=Start.AFTER_TURN, ending=Ending.NEVER_SET)
    held = Bite(number=1, ending=Ending.HELD, load_kn=4.6, held_s=60.0, mode="upright")
    return [pull.model_copy(update={"bites": (held, turned)}) for pull in pulls]


def _all_but_a_measured(pulls):
    measured = {pull.id: pull for pull in _all_measured(pulls)}
    return [
        pull if _is_a(pull) or pull.seabed == "soft mud" else measured[pull.id] for pull in pulls
    ]


def _one_of_a_later(pulls):
    first = next(pull for pull in pulls if _is_a(pull))
    return [
        pull.model_copy(update={"outing": "day 2" if pull is first else "day 1"}) for pull in pulls
    ]


def _second_boat(campaign):
    tender = Boat(name="tender", top_thrust_kn=4.6, calibration_error=0.08)
    outings = tuple(
        outing.model_copy(update={"boat": "tender"}) if outing.name == "day 2" else outing
        for outing in campaign.outings
    )
    return campaign.model_copy(update={"boats": (*campaign.boats, tender), "outings": outings})


def _kin(campaign):
    s6, p9 = campaign.anchors
    made = p9.model_copy(update={"modified_from": s6.code})
    return campaign.model_copy(update={"anchors": (s6, made)})


@dataclass(frozen=True)
class Case:
    """What is changed of an answer without flags, and the words of the one flag it then has."""

    says: str = ""
    question: dict[str, Any] = field(default_factory=dict)
    pulls: Any = tuple
    values: dict[str, Any] = field(default_factory=dict)
    sd: float = 0.03
    telling: str = ""
    campaign: Any = None


Z = norm.ppf((np.arange(4000) + 0.5) / 4000)
NINE_IN_TEN = {"measure": Measure.NINE_IN_TEN}
BURIED = {"measure": Measure.BURIED, "band": None}
S6_OR_P9 = {"a": SetUp(anchor="S6"), "b": SetUp(anchor="P9")}
CASES = {
    "never_pulled": Case("No pull of A yet", pulls=_fewer_of_a(0)),
    "few_pulls": Case("Only 2 used pulls on a side", pulls=_fewer_of_a(2)),
    "between_days_only": Case("Between days only", pulls=_a_on_the_first_day),
    "other_boats": Case(
        "A alone has pulls by tender (± 8 %)", pulls=_one_of_a_later, campaign=_second_boat
    ),
    "beyond_the_boat": Case("Every pull of A held the boat's most", pulls=_a_always_holds),
    "rests_on_other_pulls": Case("of what is known is by A's and B's", telling="others"),
    "nothing_read": Case(
        "No pull of A had its buried rode measured", BURIED, pulls=_all_but_a_measured
    ),
    "buried_on_every_seabed": Case(
        "taken to be alike on every seabed; lengths were read on firm sand and soft mud.",
        BURIED,
        pulls=_all_measured,
    ),
    "modes_assumed": Case("Modes assumed, not seen", pulls=_no_mode_seen),
    "band_narrower_than_ladder": Case(
        "narrower than the steps at which these pulls let go",
        question={"band": Band(kind="ratio", lower=0.9, upper=1.1)},
        sd=0.01,
    ),
    "adds_over_scope": Case("1 of these pulls was at another scope", pulls=_one_at_scope_7),
    "terms_at_prior": Case(
        "Still at their prior: leader=wire 2 m (load once upright). What would tell: pulls with",
        values={"treatment_upright_load": 0.1 * Z[:, None]},
    ),
    "leans_on_the_prior": Case("one twice as wide moves a chance by", sd=0.08),
    "jumps_between_modes": Case(
        "jumps between the two modes", NINE_IN_TEN, values={"upright_base": np.log(9)}
    ),
    "kin": Case("P9 was made from S6", S6_OR_P9, campaign=_kin),
    "alike_in_kind": Case("takes the anchors to be alike", {"a": SetUp(levels=WIRE), "b": SetUp()}),
}
NONE = {
    "buried rode, measured on both sides": Case(question=BURIED, pulls=_measured_on_firm_sand),
    "buried rode, another seabed's measured pull void": Case(
        question=BURIED, pulls=_void_measured_on_soft_mud
    ),
    "a load, and rode measured on two seabeds": Case(pulls=_all_measured),
    "a turn on both sides": Case(
        question={"measure": Measure.TURNS, "band": None}, pulls=_all_turned
    ),
    "how it sets, one pull at another scope": Case(
        question={"measure": Measure.UPRIGHT, "band": None}, pulls=_one_at_scope_7
    ),
    "a band of a step's width": Case(question={"band": Band(kind="ratio", lower=0.87, upper=1.15)}),
    "how often it sets, its own effect told": Case(
        question={"measure": Measure.SETS, "band": None},
        values={"treatment_upright_load": 0.1 * Z[:, None]},
    ),
    "as it is": Case(),
    "both sides by both boats": Case(campaign=_second_boat),
    "how it sets, by other boats": Case(
        question={"measure": Measure.UPRIGHT, "band": None},
        pulls=_one_of_a_later,
        campaign=_second_boat,
    ),
    "two anchors that are no kin": Case(question=S6_OR_P9),
    "one anchor that has kin": Case(campaign=_kin),
    "six pulls on a side": Case(pulls=_fewer_of_a(6)),
    "its own pulls tell": Case(telling="own"),
    "always held, but capped": Case(question={"measure": Measure.CAPPED}, pulls=_a_always_holds),
    "always held, but by mode": Case(
        question={"measure": Measure.UPRIGHT, "band": None}, pulls=_a_always_holds
    ),
    "a narrow band of chances": Case(
        question={
            "measure": Measure.UPRIGHT,
            "band": Band(kind="difference", lower=-0.01, upper=0.01),
        }
    ),
    "nine in ten, half upright": Case(question=NINE_IN_TEN, values={"upright_base": 0.0}),
    "nine in ten, always upright": Case(question=NINE_IN_TEN, values={"upright_base": 6.0}),
    "nearly always upright, typical": Case(values={"upright_base": np.log(9)}),
}


@pytest.fixture
def flags_of(known_posterior, normal_draws, many_pulls, pull_index, small_campaign):
    def found(case):
        effect = normal_draws(0.1, case.sd)
        campaign = small_campaign if case.campaign is None else case.campaign(small_campaign)
        posterior = known_posterior(case.values, leader=effect, campaign=campaign)
        if case.telling:
            # One pull reads the effect itself, as finely as the effect is known.
            reading = pull_index["day 1/2" if case.telling == "own" else "day 1/7"]
            seen = -0.5 * ((effect - 0.1) / case.sd) ** 2
            posterior.draws[LOG_LIKELIHOOD][:, reading] = seen
        question = Question.model_validate(ON_S6.model_dump() | case.question)
        return answer(question, posterior, case.pulls(many_pulls)).summary.flags

    return found


@pytest.mark.parametrize("code", CASES)
def test_a_flag_appears_alone_where_it_should(code, flags_of):
    [flag] = flags_of(CASES[code])
    assert flag.code == code
    assert CASES[code].says in flag.text


@pytest.mark.parametrize("name", NONE)
def test_no_flag_appears_where_it_should_not(name, flags_of):
    assert flags_of(NONE[name]) == ()


def test_every_flag_has_its_case(monkeypatch, flags_of):
    from model.questions import flags

    functions = [name for name in vars(flags) if name.startswith("_") and name[1].islower()]
    for name in functions:
        if name != "_":
            monkeypatch.setattr(flags, name, lambda *_: "said")
    # Of a quick answer's flag see test_quick.py: it takes draws that were weighed.
    assert {flag.code for flag in flags_of(Case())} == {*CASES, flags.QUICK}


def test_an_anchors_terms_stand_at_what_the_others_say(flags_of, monkeypatch):
    """Both gaps as wide as that of an anchor never pulled: one flag for both, and what tells."""
    from model.questions import flags

    gaps = np.exp(np.log(0.4) + 0.4 * np.stack([Z, Z[::-1]], axis=1))
    values = {"mode_gap": gaps, "mode_gap_scale": 0.4}
    case = Case(question=S6_OR_P9, values=values)
    [flag] = flags_of(case)
    assert flag.code == "terms_at_prior"
    assert flag.text.startswith(
        "Still at what the other anchors say: S6 and P9 (the gap between its modes). What would "
        "tell: pulls with S6 or P9 that set on their side and let go below the boat's most."
    )
    by_itself = Case(
        question=S6_OR_P9 | {"a": SetUp(anchor="S6", levels=WIRE)},
        values=values | {"treatment_upright_load": 0.1 * Z[:, None]},
    )
    texts = {flag.code: flag.text for flag in flags_of(by_itself)}
    assert texts["terms_at_prior"].startswith(
        "Still at their prior: leader=wire 2 m (load once upright). Still at what the other "
        "anchors say: S6 and P9 (the gap between its modes). What would tell: pulls with leader"
    )
    monkeypatch.setattr(flags, "anchor_terms", lambda *_: ())
    assert flags_of(case) == ()


@pytest.mark.parametrize(("share", "is_said"), [(0.009, False), (0.012, True)])
def test_a_single_pull_that_tells_next_to_nothing_is_not_named(
    share, is_said, monkeypatch, flags_of
):
    from model.questions import flags
    from model.questions.telling import Telling

    found = Telling(side="A", anchor="S6", seabed="firm sand", share=share)
    monkeypatch.setattr(flags, "most_telling", lambda *_: found)
    [flag] = flags_of(CASES["terms_at_prior"])
    assert ("Of single pulls one of A with S6 on firm sand tells most" in flag.text) == is_said


def test_lengths_from_another_seabed_alone_are_named(flags_of):
    question = BURIED | {"seabeds": ("soft mud",)}
    texts = {
        flag.code: flag.text
        for flag in flags_of(Case(question=question, pulls=_measured_on_firm_sand))
    }
    assert texts["buried_on_every_seabed"].endswith("lengths were read on firm sand.")


@pytest.mark.parametrize("one_more", [{"measure": Measure.NEXT}, {"over": "next"}])
def test_one_more_pull_or_anchor_rests_on_no_pull(one_more, monkeypatch, flags_of):
    """Most of what it does is chance: a share of nothing known would say that nobody pulled it."""
    from model.questions import flags

    general = {"a": SetUp(levels=WIRE), "b": SetUp()}
    case = Case(question=general | one_more, telling="others")
    assert "rests_on_other_pulls" not in {flag.code for flag in flags_of(case)}
    monkeypatch.setattr(flags, "own_share", lambda *_: 0.0)
    assert "rests_on_other_pulls" not in {flag.code for flag in flags_of(case)}
    monkeypatch.setattr(flags, "is_about_one_more", lambda _: False)
    assert "rests_on_other_pulls" in {flag.code for flag in flags_of(case)}


def test_two_sides_without_pulls_are_both_named(known_posterior):
    [flag, *_] = answer(ON_S6, known_posterior(), ()).summary.flags
    assert flag.text == "No pull of A or B yet: predicted from the other pulls."


def test_one_pull_is_one_pull(flags_of):
    [flag] = flags_of(Case(pulls=_fewer_of_a(1)))
    assert flag.text == "Only 1 used pull on a side."


def test_two_made_from_a_third_are_kin(known_posterior, small_campaign, small_pulls):
    s6, p9 = small_campaign.anchors
    kin = tuple(
        p9.model_copy(update={"code": code, "modified_from": "P9"}) for code in ("P9b", "P9c")
    )
    campaign = small_campaign.model_copy(update={"anchors": (s6, p9, *kin)})
    question = Question(name="kin", a=SetUp(anchor="P9c"), b=SetUp(anchor="P9b"))
    flags = answer(question, known_posterior(campaign=campaign), small_pulls).summary.flags
    [said] = [flag.text for flag in flags if flag.code == "kin"]
    assert said.startswith("P9c and P9b were made from P9:")


def test_an_average_says_that_kin_count_in_full(flags_of):
    [flag] = flags_of(Case(question={"a": SetUp(levels=WIRE), "b": SetUp()}, campaign=_kin))
    assert flag.text.endswith("P9 (made from another of them) counts in full.")


def test_the_next_anchor_counts_no_kin(flags_of):
    [flag] = flags_of(
        Case(question={"a": SetUp(levels=WIRE), "b": SetUp(), "over": "next"}, campaign=_kin)
    )
    assert flag.text == "In general: takes the anchors to be alike in kind."


def test_kin_far_apart_have_only_part_in_common(known_posterior, small_campaign, small_pulls):
    s6, p9 = small_campaign.anchors
    after = {"P9b": "P9", "P9c": "P9b", "S9b": "P9", "S9c": "S9b"}
    kin = tuple(
        p9.model_copy(update={"code": code, "modified_from": old}) for code, old in after.items()
    )
    campaign = small_campaign.model_copy(update={"anchors": (s6, p9, *kin)})
    assert campaign.older_specimens("P9c") == ("P9b", "P9")

    def said(a, b):
        question = Question(name="kin", a=SetUp(anchor=a), b=SetUp(anchor=b))
        flags = answer(question, known_posterior(campaign=campaign), small_pulls).summary.flags
        return next(flag.text for flag in flags if flag.code == "kin")

    assert "P9c was made from P9: most of" in said("P9c", "P9")
    assert "made from P9: part of" in said("P9c", "S9c")


def test_two_boats_on_two_sides_are_named_by_side(flags_of):
    texts = {
        flag.code: flag.text
        for flag in flags_of(Case(pulls=_a_on_the_first_day, campaign=_second_boat))
    }
    assert (
        "A alone has pulls by workboat (± 5 %), B alone has pulls by tender (± 8 %)"
        in (texts["other_boats"])
    )


def test_a_boat_without_error_or_without_a_load_is_no_matter(flags_of, small_campaign):
    def exact(campaign):
        second = _second_boat(campaign)
        boats = tuple(
            boat.model_copy(update={"calibration_error": 0.0}) if boat.name == "tender" else boat
            for boat in second.boats
        )
        return second.model_copy(update={"boats": boats})

    def never_set_by_the_other(pulls):
        never = (Bite(number=1, ending=Ending.NEVER_SET),)
        return [
            pull.model_copy(update={"bites": never}) if pull.outing == "day 2" else pull
            for pull in _one_of_a_later(pulls)
        ]

    assert flags_of(Case(pulls=_one_of_a_later, campaign=exact)) == ()
    codes = [
        flag.code for flag in flags_of(Case(pulls=never_set_by_the_other, campaign=_second_boat))
    ]
    assert "other_boats" not in codes
