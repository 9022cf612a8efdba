"""From a stored pull to the answer of one standing question, the draws being in memory.

Held as a ratio within one run, since machines differ: an answer with a pull to weigh in
against the same question answered from the fit alone. The milliseconds are printed.
"""

import statistics
import time

import pytest

from model.calibration.simulated import demo_campaign
from model.questions import quick
from model.service import answers
from model.simulate.hollow_sound import simulate_hollow_sound
from model.store.store import Store

pytestmark = pytest.mark.benchmark

DRAWS, ROUNDS = 4000, 3
MOST_RATIO = 2.5
"""Weighing a pull in may cost no more than one and a half answers beside the answer itself."""


@pytest.fixture
def demo_store(tmp_path, made_up_posterior):
    """The demo's pulls less some of the last day's, with made-up draws in memory."""
    campaign = demo_campaign()
    pulls = [pull for pull in simulate_hollow_sound(campaign, 1) if not pull.is_void]
    known, new = pulls[:-1], pulls[-1]
    posterior = made_up_posterior(campaign, known, n_draws=DRAWS)

    class InMemory(Store):
        def posterior(self, identity):
            return posterior

    store = InMemory.create(tmp_path / "store", campaign)
    store.add_pulls(known, "known")
    store.save_posterior(posterior)
    return store, new


def timed(store, question):
    began = time.process_time()
    answers.ask(store, question)
    return 1000 * (time.process_time() - began)


def test_a_stored_pull_is_answered_for_at_once(demo_store, monkeypatch):
    store, new = demo_store
    # Draws from the priors would withhold: what is timed is the whole way of one that is shown.
    monkeypatch.setitem(quick.weigh_in.__kwdefaults__, "rule", lambda weights: "")
    questions = store.campaign().questions
    for question in questions:
        answers.ask(store, question)  # libraries are loaded by the first
    full = [timed(store, question) for question in questions for _ in range(ROUNDS)]
    weighed = []
    for number in range(ROUNDS):
        store.add_pulls([new.model_copy(update={"code": f"n{number}"})], "by hand")
        weighed += [timed(store, question) for question in questions]
    state = answers.ask(store, questions[0]).summary.posterior.state
    ratio = statistics.median(weighed) / statistics.median(full)
    print(
        f"\n{DRAWS} draws: quick {statistics.median(weighed):.0f} ms, full "
        f"{statistics.median(full):.0f} ms (CPU, medians over {len(questions)} questions), "
        f"ratio {ratio:.2f}"
    )
    assert state == "quick"
    assert ratio < MOST_RATIO
