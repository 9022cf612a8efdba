"""Many rehearsals at once: in parts, on one core or two, the same."""

import numpy as np

from model.planning import sweep as sweep_module
from model.planning.policies import Alternate
from model.planning.ranking import best_pairs, rank
from model.planning.rehearsal import Settings, rehearse
from model.planning.sweep import Task, sweep

SMALL = Settings(n_campaign=30, most_pulls=4, n_draw=4000)


def test_parts_are_joined_in_their_order_on_any_number_of_cores(begun, monkeypatch):
    start, _ = best_pairs(begun, rank(begun), 3)
    monkeypatch.setattr(sweep_module, "PART", 20)
    policy = Alternate(first=0, second=1)
    tasks = [Task(policy=policy, settings=SMALL)]
    one, two = (sweep(start, tasks, n_jobs=jobs)[0] for jobs in (1, 2))
    assert one.n_campaign == 30
    assert np.array_equal(one.seen, two.seen)
    assert np.array_equal(one.finding, two.finding)
    first = rehearse(start, policy, Settings(n_campaign=20, most_pulls=4, n_draw=4000))
    assert np.array_equal(one.seen[:20], first.seen)
    assert not np.array_equal(one.seen[20:], first.seen[:10])  # a part has a seed of its own


def test_a_rehearsal_of_one_part_is_as_if_alone(begun):
    start, _ = best_pairs(begun, rank(begun), 3)
    policy = Alternate(first=0, second=1)
    found = sweep(start, [Task(policy=policy, settings=SMALL)])[0]
    assert np.array_equal(found.seen, rehearse(start, policy, SMALL).seen)
