"""Draws that weigh in new pulls, against cases that can be worked out without them."""

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import norm

from model.outcomes import likelihood
from model.questions import extended_draws as extended_draws_module
from model.questions import quick
from model.questions.additions import Additions, additions
from model.questions.ask import answer
from model.questions.monte_carlo import indicator_mcse
from model.questions.quick import Withheld, weigh_in
from model.records.campaign import Outing
from model.records.pull import Bite, Ending, ModeSeen, Pull, Reading

DAY_SCALE, SCATTER, PRIOR_SD = 0.3, 0.15, 0.3
CENTRE = np.log(3.0)
NOTHING_SPOILT = {"spoilt_share": 1e-9, "seen_upright_rate": 0.95, "seen_on_side_rate": 0.95}
UPRIGHT = {"upright_base": 9.0, "treatment_upright": 0.0, "treatment_load": 0.0}


def peak(code, load_kn, *, outing="day 3", anchor="S6"):
    bite = Bite(
        number=1,
        ending=Ending.RELEASED_THEN_STOPPED,
        reading=Reading.PEAK,
        load_kn=load_kn,
        resolution_kn=0.02,
    )
    return Pull(code=code, outing=outing, anchor=anchor, seabed="firm sand", bites=(bite,))


def never_set(code):
    return Pull(code=code, outing="day 2", anchor="S6", seabed="firm sand",
                bites=(Bite(number=1, ending=Ending.NEVER_SET),))  # fmt: skip


@pytest.fixture
def with_day_3(small_campaign):
    day = Outing(name="day 3", ladder="steps", boat="workboat", gauge="cell")
    return small_campaign.model_copy(update={"outings": (*small_campaign.outings, day)})


@pytest.fixture
def uncertain_base(known_posterior, normal_draws):
    """Nothing is unknown but the base load, and what a new day will be like."""
    return known_posterior(
        {**NOTHING_SPOILT, **UPRIGHT, "load_base": normal_draws(CENTRE, PRIOR_SD),
         "day_load_scale": DAY_SCALE}
    )  # fmt: skip


def _logs(loads_kn):
    """Readings on the scale of the base: less what the anchor's mass adds."""
    return np.log(loads_kn) - 0.8 * np.log(6.0 / 10.0)


def _base_given(readings):
    """Exact mean and sd of the base: the readings share one unknown day."""
    n = len(readings)
    precision = 1 / (DAY_SCALE**2 + SCATTER**2 / n)
    total = 1 / PRIOR_SD**2 + precision
    return (CENTRE / PRIOR_SD**2 + np.mean(readings) * precision) / total, total**-0.5


LOADS_KN = (2.6, 2.9, 2.7)


def _base_mean(found):
    return found.draws["load_base"].to_numpy().mean()


def test_pulls_of_a_new_day_share_its_effect(uncertain_base, with_day_3):
    new = tuple(peak(str(i), load) for i, load in enumerate(LOADS_KN))
    found = weigh_in(uncertain_base, Additions(campaign=with_day_3, pulls=new))
    mean, sd = _base_given(_logs(LOADS_KN))
    error = sd / np.sqrt(found.weighed.effective_draws)
    assert _base_mean(found) == pytest.approx(mean, abs=4 * error)
    assert found.draws["load_base"].to_numpy().std() == pytest.approx(sd, rel=0.1)
    # The day itself has moved, too, and the next one is as unknown as ever.
    assert found.draws["day_load"].to_numpy()[:, 2].std() < 0.8 * DAY_SCALE
    assert found.draws["outing"].to_numpy()[-1] == "day 3"


def test_with_a_day_for_each_pull_they_would_say_more(uncertain_base, small_campaign, with_day_3):
    """What the test above would find if the drawn effect were not shared."""
    days = tuple(Outing(name=f"day {n}", ladder="steps", boat="workboat", gauge="cell")
                 for n in (3, 4, 5))  # fmt: skip
    apart = small_campaign.model_copy(update={"outings": (*small_campaign.outings, *days)})
    new = tuple(peak("1", load, outing=day.name) for load, day in zip(LOADS_KN, days, strict=True))
    more = Additions(campaign=apart, pulls=new)
    found = weigh_in(uncertain_base, more, rule=lambda weights: "")
    mean, sd = _base_given(_logs(LOADS_KN))
    assert abs(_base_mean(found) - mean) > 0.1 * sd
    assert found.draws["load_base"].to_numpy().std() < 0.9 * sd


def test_without_the_days_draw_the_pulls_would_be_taken_at_their_word(
    uncertain_base, with_day_3, monkeypatch
):
    monkeypatch.setattr(
        extended_draws_module._News, "_one", lambda self, *_: np.zeros(self._n_draw)
    )
    new = tuple(peak(str(i), load) for i, load in enumerate(LOADS_KN))
    found = weigh_in(uncertain_base, Additions(campaign=with_day_3, pulls=new))
    mean, sd = _base_given(_logs(LOADS_KN))
    assert isinstance(found, Withheld) or abs(_base_mean(found) - mean) > 0.3 * sd


def test_one_pull_that_never_set_is_what_quadrature_says(
    known_posterior, normal_draws, small_campaign
):
    posterior = known_posterior({**NOTHING_SPOILT, "sets_base": normal_draws(2.5, 1.2)})
    found = weigh_in(posterior, Additions(campaign=small_campaign, pulls=(never_set("9"),)))
    grid = np.linspace(-6, 10, 8001)
    density = norm.pdf(grid, 2.5, 1.2) * expit(-grid)
    mean = np.trapezoid(grid * density, grid) / np.trapezoid(density, grid)
    sd = np.sqrt(np.trapezoid((grid - mean) ** 2 * density, grid) / np.trapezoid(density, grid))
    error = sd / np.sqrt(found.weighed.effective_draws)
    assert found.draws["sets_base"].to_numpy().mean() == pytest.approx(mean, abs=4 * error)


def test_without_the_weights_the_draws_would_not_have_moved(
    known_posterior, normal_draws, small_campaign, monkeypatch
):
    posterior = known_posterior({**NOTHING_SPOILT, "sets_base": normal_draws(2.5, 1.2)})
    monkeypatch.setattr(quick, "resampled", lambda shares, rng: np.arange(shares.size))
    found = weigh_in(posterior, Additions(campaign=small_campaign, pulls=(never_set("9"),)))
    assert found.draws["sets_base"].to_numpy().mean() == pytest.approx(2.5, abs=1e-6)


def test_a_pull_that_tells_nothing_of_what_is_unknown_changes_nothing(
    uncertain_base, small_campaign
):
    found = weigh_in(uncertain_base, Additions(campaign=small_campaign, pulls=(never_set("9"),)))
    assert found.weighed.effective_draws == pytest.approx(4000)
    assert np.array_equal(found.weighed.source, np.arange(4000))


def test_a_great_surprise_is_withheld(uncertain_base, with_day_3):
    found = weigh_in(uncertain_base, Additions(campaign=with_day_3, pulls=(peak("1", 0.3),)))
    assert isinstance(found, Withheld)
    assert found.reason
    # And without the rule there would be an answer from a handful of draws.
    shown = weigh_in(
        uncertain_base,
        Additions(campaign=with_day_3, pulls=(peak("1", 0.3),)),
        rule=lambda weights: "",
    )
    assert len(np.unique(shown.weighed.source)) < 400


def test_the_answer_knows_the_new_pulls_and_says_so(
    uncertain_base, small_campaign, small_pulls, with_day_3
):
    new = (peak("1", 2.8), peak("2", 2.9, anchor="P9"))
    known = [pull for pull in small_pulls if pull.id in set(uncertain_base.provenance.pull_ids)]
    more = additions(small_campaign, known, with_day_3, (*known, *new))
    found = weigh_in(uncertain_base, more)
    summary = answer(small_campaign.questions[0], found, (*small_pulls, *new)).summary
    assert (summary.posterior.state, summary.posterior.pulls) == ("quick", 17)
    assert summary.posterior.id == uncertain_base.provenance.id
    [flag] = [flag for flag in summary.flags if flag.code == "quick"]
    assert "day 3/1, 2" in flag.text
    log_of_new = found.draws["log_likelihood"].to_numpy()[:, -2:]
    assert list(found.draws["pull"].to_numpy()[-2:]) == ["day 3/1", "day 3/2"]
    assert np.ptp(log_of_new, axis=0).min() > 0


def test_what_is_left_to_luck_is_what_repeats_scatter_by(
    made_up_posterior, small_campaign, small_pulls
):
    """The stated error of a quick probability against what other draws would give."""
    bite = Bite(number=1, ending=Ending.RELEASED_THEN_STOPPED, load_kn=3.2)
    new = (peak("91", 3.2, outing="day 2").model_copy(update={"bites": (bite,)}),)
    found, stated = [], []
    for seed in range(40):
        posterior = made_up_posterior(small_campaign, small_pulls, n_draws=2000, seed=seed)
        more = Additions(campaign=small_campaign, pulls=new)
        weighed = weigh_in(posterior, more, rule=lambda weights: "")  # draws from the priors: few
        indicator = (weighed.draws["load_base"].to_numpy() > np.log(3.0)).astype(float)
        found.append(indicator.mean())
        stated.append(indicator_mcse(indicator, weighed))
    # The spread of forty has a relative error of 0.11.
    assert np.std(found, ddof=1) == pytest.approx(np.mean(stated), rel=0.35)
    naive = np.sqrt(np.mean(found) * (1 - np.mean(found)) / 2000)
    assert np.mean(stated) > 1.15 * naive  # as if the draws had not been weighted


def test_all_draws_at_once_or_a_part_at_a_time_is_the_same(
    made_up_posterior, small_campaign, small_pulls, monkeypatch
):
    posterior = made_up_posterior(small_campaign, small_pulls, n_draws=2000)
    more = Additions(campaign=small_campaign, pulls=(never_set("91"),))
    whole = weigh_in(posterior, more)
    monkeypatch.setattr(likelihood, "PLACES_AT_ONCE", 1)
    parts = weigh_in(posterior, more)
    assert np.array_equal(whole.weighed.source, parts.weighed.source)


def test_a_seen_mode_counts_as_it_does_in_a_fit(known_posterior, normal_draws, small_campaign):
    """A bite seen upright moves the chance of upright by Bayes' rule, misreadings included."""
    posterior = known_posterior({**NOTHING_SPOILT, "upright_base": normal_draws(0.0, 1.0),
                                 "mode_gap": 1e-9})  # fmt: skip
    bite = Bite(number=1, ending=Ending.RELEASED_THEN_STOPPED, load_kn=3.2, mode=ModeSeen.UPRIGHT)
    new = Pull(code="9", outing="day 2", anchor="S6", seabed="firm sand", bites=(bite,))
    found = weigh_in(posterior, Additions(campaign=small_campaign, pulls=(new,)))
    grid = np.linspace(-6, 6, 8001)
    seen = 0.95 * expit(grid) + 0.05 * expit(-grid)
    density = norm.pdf(grid) * seen
    mean = np.trapezoid(grid * density, grid) / np.trapezoid(density, grid)
    error = 1 / np.sqrt(found.weighed.effective_draws)
    assert found.draws["upright_base"].to_numpy().mean() == pytest.approx(mean, abs=4 * error)
