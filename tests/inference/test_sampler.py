"""The way from pulls to a posterior: compiled once, checked, tried again, never half done."""

import datetime as dt

import numpy as np
import pytest

from model.arrays.campaign_arrays import campaign_arrays
from model.base.errors import FitFailed
from model.base.priors import Normal, Priors
from model.graph import density as density_module
from model.graph.data import density_data
from model.graph.starts import starting_point
from model.inference import fit_check as fit_check_module
from model.inference import sampler as sampler_module
from model.inference.attempts import Attempt
from model.inference.identity import wanted_fingerprint
from model.inference.sampler import SHARE_COMPILING, Sampler
from model.inference.settings import MODEL_VERSION, Settings
from model.outcomes.shape import Shape
from model.posterior.posterior import LOG_LIKELIHOOD, schema_faults
from model.records.pull import Ending

BRIEF = Settings(tune=300, draws=500)
ONCE = Settings(tune=300, draws=500, targets=BRIEF.targets[:1], lengths=BRIEF.lengths[:1])
"""Where a second attempt would spoil what is watched."""
NOW = dt.datetime(2026, 5, 4, 12, 0, tzinfo=dt.UTC)

pytestmark = pytest.mark.fit


@pytest.fixture(scope="module")
def watched(sampler, tried_campaign, worlds):
    """One fit with everything that it said and what its sampler handed over."""
    told, traces = [], []
    with pytest.MonkeyPatch.context() as patch:
        sample = sampler_module._sample

        def keep(*arguments):
            traces.append(sample(*arguments))
            return traces[-1]

        patch.setattr(sampler_module, "_sample", keep)
        patch.setattr(sampler_module, "now", lambda: NOW)
        posterior = sampler.fit(
            tried_campaign,
            worlds["one pull"],
            settings=ONCE,
            seed=7,
            progress=lambda share, text: told.append((share, text)),
        )
    return posterior, told, traces


def test_a_posterior_says_where_it_came_from(watched, tried_campaign, worlds):
    found = watched[0].provenance
    assert found.pull_ids == ("day 1/S6 plain 0",)
    assert found.id == wanted_fingerprint(tried_campaign, worlds["one pull"], settings=ONCE, seed=7)
    assert (found.seed, found.model_version, found.made_at) == (7, MODEL_VERSION, NOW)
    assert found.settings == ONCE.canonical()
    assert found.priors == Priors().canonical()
    assert 0 < found.duration_s < 300


def test_draws_are_those_of_the_campaign_and_nothing_else(watched, tried_campaign):
    draws = watched[0].draws
    assert schema_faults(draws) == []
    assert draws.sizes["draw"] == BRIEF.chains * BRIEF.draws
    assert list(draws["anchor"].to_numpy()) == [anchor.code for anchor in tried_campaign.anchors]
    assert list(draws["outing"].to_numpy()) == ["day 1", "day 2"]
    assert np.bincount(draws["chain"].to_numpy()).tolist() == [BRIEF.draws] * BRIEF.chains
    assert (draws[LOG_LIKELIHOOD] < 0).all()


def test_progress_is_told_from_compiling_to_done(watched):
    told = watched[1]
    shares = [share for share, _ in told]
    assert told[0] == (0.0, "compiling the model")
    assert told[-1] == (1.0, "done")
    assert shares == sorted(shares)
    sampling = [share for share, text in told if text == "sampling"]
    assert min(sampling) >= SHARE_COMPILING
    assert max(sampling) > SHARE_COMPILING


# --- compiled once for all shapes -----------------------------------------------------------------


@pytest.fixture
def once():
    """Fails if anything was compiled in the test that the fixture's fits had not compiled."""
    compiled = density_module._function()
    before = list(compiled.signatures)
    assert len(before) == 1
    yield
    assert list(compiled.signatures) == before


def test_another_campaign_needs_no_second_compile(sampler, watched, tried_campaign, worlds, once):
    """Other anchors, masses and loads are data: the same density, and another posterior."""
    anchors = tuple(
        anchor.model_copy(update={"code": f"{anchor.code} b", "mass_kg": 3.0})
        for anchor in tried_campaign.anchors
    )
    other = tried_campaign.model_copy(update={"name": "Another", "anchors": anchors})
    [pull] = worlds["one pull"]
    weak = pull.bites[0].model_copy(update={"load_kn": 0.5})
    pulls = [pull.model_copy(update={"anchor": "S6 b", "bites": (weak,)})]
    posterior = sampler.fit(other, pulls, settings=BRIEF)
    assert list(posterior.draws["anchor"].to_numpy()) == ["S6 b", "P9 b"]
    assert posterior.draws["load_base"].median() < watched[0].draws["load_base"].median() - 0.3


def test_neither_does_another_shape(sampler, watched, tried_campaign, worlds, once):
    anchors = tried_campaign.anchors
    more = tuple(anchors[0].model_copy(update={"code": f"S6 {i}"}) for i in range(3))
    wider = tried_campaign.model_copy(update={"anchors": (*anchors, *more)})
    assert Shape.of(wider) != Shape.of(tried_campaign)
    posterior = sampler.fit(wider, worlds["one pull"], settings=BRIEF)
    assert posterior.draws.sizes["anchor"] == 5


class _Stopped(Exception):
    """Raised in the place of the work that a test only wants to see asked for."""


def test_chains_start_where_they_should(sampler, tried_campaign, worlds, monkeypatch):
    asked = {}

    def build_only(**options):
        asked.update(options)
        raise _Stopped

    monkeypatch.setattr(sampler_module, "from_pyfunc", build_only)
    with pytest.raises(_Stopped):
        sampler.fit(tried_campaign, worlds["one pull"], settings=BRIEF)
    arrays = campaign_arrays(tried_campaign, worlds["one pull"])
    data = density_data(arrays, sampler.priors, Shape.of(tried_campaign))
    start = asked["make_initial_point_fn"]
    assert start(3) == pytest.approx(starting_point(data)(3))


def test_longer_chains_at_smaller_steps_are_what_is_asked_of_the_sampler(monkeypatch):
    asked = {}

    def sample_only(compiled, **options):
        asked.update(options)
        raise _Stopped

    monkeypatch.setattr(sampler_module.nutpie, "sample", sample_only)
    attempt = Attempt(length=3, target_accept=BRIEF.targets[1], number=1)
    with pytest.raises(_Stopped):
        sampler_module._sample(None, 8, BRIEF, attempt, lambda *_: None)
    wanted = {"chains": 4, "tune": 600, "draws": 1500, "seed": 8, "cores": 2,
              "target_accept": 0.98, "maxdepth": BRIEF.max_depth + 1}  # fmt: skip
    assert {name: asked[name] for name in wanted} == wanted


# --- checked, and tried once more -----------------------------------------------------------------


@pytest.fixture
def replay(sampler, watched, tried_campaign, worlds, monkeypatch):
    """Fit again with traces given one after another; returns the posterior and the calls."""

    def again(*traces):
        calls, waiting = [], list(traces)

        def sample(compiled, seed, settings, attempt, tell):
            calls.append((attempt.length, attempt.target_accept))
            seeds.append(seed)
            tell(0.5, "sampling")
            return waiting.pop(0)

        monkeypatch.setattr(sampler_module, "_sample", sample)
        # A brief run, thinned, stands at the limits, now below them, now above. Here it
        # is to pass: what counts is what is tried after what.
        monkeypatch.setattr(fit_check_module, "RHAT_MAX", 1.05)
        monkeypatch.setattr(fit_check_module, "ESS_MIN", 50)
        return sampler.fit(
            tried_campaign, worlds["one pull"], settings=BRIEF, seed=7,
            progress=lambda share, text: told.append(text),
        ), calls  # fmt: skip

    seeds, told = [], []
    again.seeds, again.told = seeds, told
    return again


@pytest.fixture
def good(watched):
    return watched[2][-1]


def _diverged(trace):
    broken = trace.copy(deep=True)
    broken["sample_stats"]["diverging"][0, :3] = True
    return broken


LONGER = BRIEF.lengths[1]
FIRST, SECOND, THIRD, FOURTH = ((1, target) for target in BRIEF.targets)


def _apart(trace):
    """Chains that tell different stories."""
    broken = trace.copy(deep=True)
    broken["posterior"]["position"][0] += 3.0
    return broken


def test_a_fit_that_passes_is_not_tried_again(replay, good):
    posterior, calls = replay(good)
    assert (posterior.fit_check.status, calls) == ("passed", [FIRST])


def test_after_divergences_it_is_tried_again_with_smaller_steps(replay, good):
    posterior, calls = replay(_diverged(good), good)
    assert calls == [FIRST, SECOND]
    assert posterior.fit_check.divergences == 0
    assert posterior.draws.sizes["draw"] == BRIEF.chains * BRIEF.draws


def test_where_only_divergences_are_left_each_try_takes_still_smaller_steps(replay, good):
    posterior, calls = replay(*[_diverged(good)] * 3, good)
    assert calls == [FIRST, SECOND, THIRD, FOURTH]
    assert posterior.fit_check.status == "passed"
    assert posterior.draws.sizes["draw"] == BRIEF.chains * BRIEF.draws


def test_a_fit_that_fails_to_the_end_says_so(replay, good):
    posterior, calls = replay(*[_diverged(good)] * 4)
    assert calls == [FIRST, SECOND, THIRD, FOURTH]
    assert posterior.fit_check.status == "failed"
    assert "3 divergent draws" in posterior.fit_check.reasons[0]


def test_chains_that_disagree_go_on_for_longer(replay, good):
    posterior, calls = replay(*[_apart(good)] * len(BRIEF.lengths))
    assert calls == [FIRST, *((length, SECOND[1]) for length in BRIEF.lengths[1:])]
    assert any("chains disagree" in reason for reason in posterior.fit_check.reasons)


def test_each_attempt_has_chains_of_its_own_and_says_that_it_is_one(replay, good):
    """Chains of the same seed would only come again: those that disagreed would disagree."""
    replay(_apart(good), _diverged(good), good)
    assert replay.seeds == [7, 8, 9]
    said = [text for text in replay.told if text.startswith("sampling")]
    assert said[0] == "sampling"
    assert said[1] == "sampling 3 times as long: the draws before did not pass their check"
    assert said[2] == said[1]


def test_longer_chains_are_thinned_by_as_much(replay, good, monkeypatch):
    """Energy and divergences of every step count, also of those thinned away."""
    judged = []

    def look(draws, arrays, energy, divergences):
        judged.append((draws.sizes["draw"], energy.shape, divergences))
        return real_check(draws, arrays, energy, divergences)

    real_check = sampler_module.check_fit
    monkeypatch.setattr(sampler_module, "check_fit", look)
    between = good.copy(deep=True)
    between["sample_stats"]["diverging"][0, 1] = True
    replay(_apart(good), between, good)
    n_chain, n_step = good["sample_stats"]["energy"].shape
    kept = n_chain * len(range(0, n_step, LONGER))
    assert judged[:2] == [(n_chain * n_step, (n_chain, n_step), 0), (kept, (n_chain, n_step), 1)]


# --- never half done ------------------------------------------------------------------------------


def test_a_run_padded_with_nothing_is_no_posterior(replay, good):
    """An interrupted run comes back with its missing draws filled up."""
    broken = good.copy(deep=True)
    broken["posterior"]["position"][-1, 400:] = np.nan
    with pytest.raises(FitFailed, match="stopped before its last draw"):
        replay(broken)
    posterior, _ = replay(good)  # and nothing of it is left in the way
    assert posterior.fit_check.status == "passed"


class Handle:
    """A sampler in the background that ends as it is told."""

    def __init__(self, *endings):
        self.endings = list(endings)
        self.cancelled = False

    def wait(self, timeout):
        ending = self.endings.pop(0)
        if isinstance(ending, BaseException):
            raise ending
        return ending

    def cancel(self):
        self.cancelled = True


def test_waiting_goes_on_until_the_draws_are_there():
    handle = Handle(TimeoutError(), TimeoutError(), "draws")
    assert sampler_module._wait(handle) == "draws"
    assert not handle.cancelled


def test_an_interrupt_stops_the_sampler_and_is_passed_on():
    handle = Handle(TimeoutError(), KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        sampler_module._wait(handle)
    assert handle.cancelled


class Panic(BaseException):
    """What comes of a fault in the density: no Exception."""


@pytest.mark.parametrize("kind", [RuntimeError, Panic])
def test_a_sampler_that_gives_up_is_a_failed_fit(kind):
    handle = Handle(kind("all chains died"))
    with pytest.raises(FitFailed, match="gave up: all chains died") as caught:
        sampler_module._wait(handle)
    assert caught.value.hint
    assert handle.cancelled


def test_a_sampler_that_cannot_be_stopped_hides_no_cause():
    handle = Handle(Panic("all chains died"))
    handle.cancel = lambda: handle.wait(0)  # nothing left: it breaks
    with pytest.raises(FitFailed, match="all chains died"):
        sampler_module._wait(handle)


# --- what shapes the draws ------------------------------------------------------------------------


def test_other_priors_need_no_second_compile(watched, tried_campaign, worlds, once):
    wide = Sampler(priors=Priors(treatment_load=Normal(mean=0.0, sd=0.4)))
    posterior = wide.fit(tried_campaign, worlds["one pull"], settings=BRIEF)
    narrow = watched[0].draws["treatment_load"].std()
    assert narrow == pytest.approx(0.10, abs=0.01)  # one pull tells nothing of the leader
    assert posterior.draws["treatment_load"].std() == pytest.approx(0.40, abs=0.04)


def test_a_void_pull_changes_nothing(sampler, watched, tried_campaign, worlds):
    """The same identity, and draws that agree within Monte Carlo error."""
    [pull] = worlds["one pull"]
    bite = pull.bites[0].model_copy(update={"ending": Ending.VOID})
    void = pull.model_copy(update={"code": "spoilt", "bites": (bite,), "reason": "fouled"})
    assert void.is_void
    posterior = sampler.fit(tried_campaign, [pull, void], settings=ONCE, seed=7)
    assert posterior.provenance.id == watched[0].provenance.id
    for name in ("load_base", "upright_base", "sets_base"):
        one, other = posterior.draws[name], watched[0].draws[name]
        assert float(one.mean()) == pytest.approx(float(other.mean()), abs=0.2 * float(other.std()))
