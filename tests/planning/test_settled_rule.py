"""The rule for many campaigns at once, condition by condition."""

import numpy as np
import pytest

from model.planning.information import ABOVE, INSIDE
from model.planning.settled_rule import NONE, Looks, is_settled, seen_at

SURE = (0.01, 0.01, 0.98)


def judged(shares=SURE, doubled=SURE, worth=5000.0, last=ABOVE, n=(6, 6), shares_a_day=True):
    looks = Looks(
        shares=np.array([shares]), doubled=np.array([doubled]), doubled_worth=np.array([worth])
    )
    n_a, n_b = (np.array([one]) for one in n)
    return bool(is_settled(looks, np.array([last]), n_a, n_b, np.array([shares_a_day]))[0])


def test_all_together_settle_it():
    assert judged()


@pytest.mark.parametrize(
    "broken",
    [
        {"shares": (0.03, 0.03, 0.94)},
        {"shares": (0.023, 0.023, 0.954)},  # within two Monte Carlo errors of 95 %
        {"doubled": (0.1, 0.1, 0.8)},
        {"doubled": (0.0, 0.97, 0.03)},
        {"worth": 50.0},
        {"last": NONE},
        {"last": INSIDE},
        {"n": (5, 9)},
        {"n": (9, 5)},
        {"shares_a_day": False},
    ],
    ids=str,
)
def test_each_condition_alone_keeps_it_open(broken):
    assert not judged(**broken)


def test_a_look_says_a_region_from_95_percent_on():
    found = seen_at(np.array([[0.96, 0.04, 0.0], [0.0, 0.95, 0.05], [0.3, 0.3, 0.4]]))
    assert found.tolist() == [0, 1, NONE]
