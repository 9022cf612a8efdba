"""Predicted whole pulls, against the simulator, which knows nothing of the formula."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from model.arrays.campaign_arrays import gauge_names
from model.base.names import PARAMETER_DIMS
from model.questions import setting_modes
from model.questions import whole_pulls as module
from model.questions.mode_sentences import climb_words, course_words, courses_words
from model.questions.setting_modes import Place, set_up_modes
from model.questions.whole_pulls import Course
from model.records.campaign import Boat, Gauge, Ladder, Outing, Step
from model.records.pull import Ending
from model.simulate.plan import Plan
from model.simulate.pull import simulate_pull
from model.simulate.world import World, dim_names

TRUTH = {
    "load_base": np.log(6.0),
    "mass_exponent": 0.8,
    "mode_gap": 0.5,
    "log_scatter": np.log(0.15),
    "upright_base": 0.2,
    "later_bite_upright": 0.8,
    "later_bite_load": -0.05,
    "pull_load_scale": 0.08,
    "sets_base": 2.0,
    "resets_base": 1.0,
    "scope_slope": 2.6,
    "seen_upright_rate": 0.95,
    "seen_on_side_rate": 0.95,
    "sign_upright_rate": 0.5,
    "sign_on_side_rate": 0.5,
    "buried_scatter": 0.3,
    "hold_exponent": 0.1,
}
GAUGES = {"cell": 0.02, "spring": 0.12}
PULLS = 4000
PLACE = Place(anchor="S6", seabed="firm sand", levels={"leader": "chain only", "chain": "8 mm"})
BIAS = {"workboat": 0.1, "launch": -0.15}
LAUNCH_KN = (0.7, 1.4, 2.3, 3.0, 3.6)


def two_boats(campaign, newest):
    """A launch with a ladder and a rougher gauge of its own beside the workboat."""
    steps = tuple(Step(load_kn=load_kn, dwell_s=20.0) for load_kn in LAUNCH_KN)
    launch = Outing(name="launch day", ladder="launch steps", boat="launch", gauge="spring")
    outings = {"workboat": (launch, *campaign.outings), "launch": (*campaign.outings, launch)}
    return campaign.model_copy(
        update={
            "boats": (*campaign.boats, Boat(name="launch", top_thrust_kn=3.6)),
            "gauges": (*campaign.gauges, Gauge(name="spring", repeatability=0.12)),
            "ladders": (
                *campaign.ladders,
                Ladder(name="launch steps", steps=steps, final_hold_s=40.0),
            ),
            "outings": outings[newest],
        }
    )


@pytest.fixture(params=BIAS)
def newest(request):
    """Whose outing was the last."""
    return request.param


@pytest.fixture
def campaign(small_campaign, newest):
    return two_boats(small_campaign, newest)


@pytest.fixture
def world(campaign):
    names = dim_names(campaign)
    values = {
        name: np.full(tuple(len(names[dim]) for dim in dims), float(TRUTH.get(name, 0.0)))
        for name, dims in PARAMETER_DIMS.items()
    }
    values["boat_bias"] = np.array([BIAS[boat] for boat in names["boat"]])
    values["gauge_scatter"] = np.array([GAUGES[gauge] for gauge in names["gauge"]])
    return World(campaign=campaign, values=values)


@pytest.fixture
def foretell(known_posterior, small_pulls, campaign, world):
    """The next pull of one set-up, worked out from draws that are certain of the truth."""

    def make():
        gauges = [GAUGES.get(gauge, 0.5) for gauge in gauge_names(campaign)]
        told = {"boat_bias": world.values["boat_bias"], "gauge_scatter": gauges}
        certain = {"treatment_load": 0.0, "treatment_upright": 0.0}
        posterior = known_posterior({**TRUTH, **certain, **told}, campaign=campaign)
        found = set_up_modes(posterior, small_pulls, [PLACE])
        return next(one.whole for one in found if one.place == PLACE)

    return make


@pytest.fixture
def predicted(foretell):
    return foretell()


@pytest.fixture
def lived(world, campaign):
    rng = np.random.default_rng(4)
    plan = Plan(outing=campaign.outings[-1].name, anchor="S6", seabed="firm sand", code="1")
    return [simulate_pull(world, plan, rng) for _ in range(PULLS)]


def _shares(pulls):
    holds = np.array([pull.ending is Ending.HELD for pull in pulls])
    slips = np.array([len(pull.bites) > 1 for pull in pulls])
    sets = np.array([pull.has_set for pull in pulls])
    return {
        "p_never_sets": np.mean(~sets),
        "p_holds_at_first": np.mean(holds & ~slips),
        "p_slips": np.mean(slips),
        "p_slips_and_holds": np.mean(slips & holds),
        "p_gone": np.mean(sets & ~holds),
    }


def test_every_kind_comes_as_often_as_in_the_simulator(predicted, lived):
    for name, share in _shares(lived).items():
        error = np.sqrt(2 * share * (1 - share) / PULLS)
        assert getattr(predicted, name) == pytest.approx(share, abs=4 * error), name
    assert predicted.p_slips > 0.05  # each kind is there to be told apart
    assert predicted.p_slips_and_holds > 0.01


def test_re_sets_are_counted_among_the_pulls_that_let_go(predicted, lived):
    let_go = [pull for pull in lived if pull.bites[0].ending.is_release]
    share = np.mean([len(pull.bites) > 1 for pull in let_go])
    error = np.sqrt(2 * share * (1 - share) / len(let_go))
    assert predicted.p_resets == pytest.approx(share, abs=4 * error)
    assert predicted.p_resets > 1.2 * predicted.p_slips  # which is of all pulls


def test_what_never_lets_go_has_no_re_sets(predicted):
    held = replace(predicted, p_never_sets=0.0, p_holds_at_first=1.0, p_slips=0.0)
    assert held.p_resets is None


def test_the_likeliest_courses_are_the_simulators(predicted, lived):
    found = Counter(
        tuple(bite.load_kn if bite.ending is not Ending.HELD else "held" for bite in pull.bites)
        if pull.has_set else ()
        for pull in lived
    )  # fmt: skip
    for course in predicted.courses:
        steps = (*course.steps_kn, *(("held",) if course.is_held else ()))
        share = found[steps] / PULLS
        error = np.sqrt(2 * share * (1 - share) / PULLS)
        assert course.chance == pytest.approx(share, abs=4 * error), course
    chances = [course.chance for course in predicted.courses]
    assert chances == sorted(chances, reverse=True)


def test_a_re_set_that_need_not_stand_the_thrust_would_show(foretell, lived, monkeypatch):
    true_maximum = np.maximum
    monkeypatch.setattr(module.np, "maximum", lambda a, b: 0 * true_maximum(a, b))
    assert foretell().p_slips > _shares(lived)["p_slips"] + 0.05


def test_a_final_hold_no_harder_than_a_dwell_would_show(foretell, lived, monkeypatch):
    monkeypatch.setattr(module, "_log_final_hold", lambda _: 0.0)
    assert foretell().p_holds_at_first > _shares(lived)["p_holds_at_first"] + 0.03


def test_true_loads_on_a_ladder_of_readings_would_show(foretell, lived, newest, monkeypatch):
    monkeypatch.setattr(module, "as_read", lambda prediction, _: prediction)
    error = foretell().p_holds_at_first - _shares(lived)["p_holds_at_first"]
    assert abs(error) > 0.04
    assert np.sign(error) == -np.sign(BIAS[newest])


def test_readings_of_another_boat_would_show(foretell, lived, newest, monkeypatch):
    true_readings = setting_modes.newest_readings

    def of_the_other(campaign, parameters):
        other = {"boat_bias": parameters["boat_bias"][:, ::-1]}
        return true_readings(campaign, {**parameters, **other})

    monkeypatch.setattr(setting_modes, "newest_readings", of_the_other)
    assert abs(foretell().p_holds_at_first - _shares(lived)["p_holds_at_first"]) > 0.05


def test_kinds_leave_nothing_out(predicted):
    held = predicted.p_holds_at_first + predicted.p_slips_and_holds
    assert predicted.p_never_sets + held + predicted.p_gone == pytest.approx(1)


def test_ladder_and_boat_are_named(predicted, newest):
    ladder = {"workboat": "steps", "launch": "launch steps"}[newest]
    assert (predicted.ladder, predicted.boat) == (ladder, newest)
    assert f"up the ladder {ladder} by {newest}" in climb_words(predicted)


def test_courses_in_words(small_campaign, predicted):
    slip = Course(steps_kn=(2.6, 3.9), is_held=True, chance=0.1)
    assert course_words(slip, small_campaign) == (
        "lets go at 2.6 kN, then at 3.9 kN, digs in again and holds to the end"
    )
    assert course_words(Course(steps_kn=(), is_held=True, chance=1), small_campaign) == (
        "holds to the end"
    )
    pounds = small_campaign.model_copy(update={"load_unit": "lbf"})
    assert "lets go at 585 lbf" in course_words(slip, pounds)
    words = courses_words(predicted, small_campaign)
    assert words.count("; ") == len(predicted.courses) - 1
    assert words.startswith(course_words(predicted.courses[0], small_campaign))


def test_without_a_ladder_nothing_is_foretold(known_posterior, small_pulls, small_campaign):
    outings = tuple(
        outing.model_copy(update={"ladder": "unknown"}) for outing in small_campaign.outings
    )
    bare = small_campaign.model_copy(update={"outings": outings, "ladders": ()})
    found = set_up_modes(known_posterior(campaign=bare), small_pulls)
    assert {one.whole for one in found} == {None}
