"""A one-time code against guesses, time, use and a second device; nothing here sleeps."""

import datetime as dt
import random

import pytest

from model.service import pairing
from model.service.pairing import (
    CODE_LASTS,
    CODE_LENGTH,
    CODE_LETTERS,
    DEVICE_LASTS,
    LOCK_LASTS,
    MOST_DEVICES,
    MOST_FROM_ADDRESS,
    MOST_PER_CODE,
    Closed,
    Refusal,
)

NOW = dt.datetime(2026, 5, 3, 12, 0, tzinfo=dt.UTC)
PHONE = "192.168.1.20"
WRONG = "2" * CODE_LENGTH


class Door:
    """A state that is carried on, with a clock that a test moves."""

    def __init__(self):
        self.rng, self.now = random.Random(3), NOW
        self.state = pairing.begin(self.rng)

    def offer(self):
        offered = pairing.offer(self.state, now=self.now, rng=self.rng)
        self.state = offered.pairing
        return offered.code

    def type(self, code, address=PHONE):
        tried = pairing.try_code(self.state, code, address=address, now=self.now, rng=self.rng)
        self.state = tried.pairing
        assert (tried.token is None) != (tried.refusal is None)
        return tried.token or tried.refusal

    def knows(self, token):
        return pairing.is_paired(self.state, token, now=self.now)


@pytest.fixture
def door():
    return Door()


def test_the_right_code_pairs_one_device(door):
    token = door.type(door.offer())
    assert door.knows(token)
    assert not door.knows(None)
    assert not door.knows("")
    assert not door.knows(token[:-1])
    assert not door.knows("é" * 64)
    assert not door.knows("a" * 100_000)


def test_a_code_is_typed_as_people_type(door):
    code = door.offer()
    assert set(code) <= set(CODE_LETTERS)
    assert len(code) == CODE_LENGTH
    assert pairing.readable(code).replace("-", "") == code
    assert door.knows(door.type(f" {pairing.readable(code).lower()} "))
    assert door.state.closed is Closed.USED


def test_a_wrong_code_and_one_of_another_time_are_refused(door):
    old = door.offer()
    new = door.offer()
    assert old != new
    for typed in (WRONG, old, "", "é", "\ud800", new[:-1], new + "2", "x" * 10_000):
        door.state = door.state.model_copy(update={"tries": {}})
        assert door.type(typed) is Refusal.WRONG
    door.state = door.state.model_copy(update={"tries": {}})
    assert door.knows(door.type(new))


def test_before_any_code_nothing_is_right(door):
    assert door.type("") is Refusal.NO_CODE
    assert door.type(WRONG) is Refusal.NO_CODE


def test_a_code_expires(door):
    code = door.offer()
    door.now += CODE_LASTS - dt.timedelta(seconds=1)
    assert pairing.is_open(door.state, now=door.now)
    door.now += dt.timedelta(seconds=1)
    assert door.type(code) is Refusal.NO_CODE
    assert not pairing.is_open(door.state, now=door.now)


def test_a_code_works_once_and_a_second_device_needs_its_own(door):
    code = door.offer()
    first = door.type(code)
    assert door.type(code) is Refusal.NO_CODE  # replayed by the same device
    assert door.type(code, "192.168.1.21") is Refusal.NO_CODE
    second = door.type(door.offer(), "192.168.1.21")
    assert first != second
    assert door.knows(first)
    assert door.knows(second)


def test_a_thousand_guesses_from_one_address_are_locked_out(door):
    code = door.offer()
    answers = [door.type(f"{number:08d}") for number in range(1000)]
    assert answers[:MOST_FROM_ADDRESS] == [Refusal.WRONG] * MOST_FROM_ADDRESS
    assert set(answers[MOST_FROM_ADDRESS:]) == {Refusal.LOCKED}
    assert door.type(code) is Refusal.LOCKED  # also the right one
    door.now += LOCK_LASTS - dt.timedelta(seconds=1)
    assert door.type(code) is Refusal.LOCKED
    door.now += dt.timedelta(seconds=1)
    assert door.type(code) is not Refusal.LOCKED


def guessed_by_a_neighbour(door):
    """Five wrong guesses from the address that the owner's own devices have, too."""
    for _ in range(MOST_FROM_ADDRESS):
        door.type(WRONG)
    assert door.type(WRONG) is Refusal.LOCKED


def test_a_new_code_lifts_the_lock_behind_one_router(door):
    door.offer()
    guessed_by_a_neighbour(door)
    assert door.knows(door.type(door.offer()))


def test_a_code_that_kept_the_tries_would_keep_the_owner_out(door):
    door.offer()
    guessed_by_a_neighbour(door)
    tries = door.state.tries
    code = door.offer()
    door.state = door.state.model_copy(update={"tries": tries})
    assert door.type(code) is Refusal.LOCKED


def test_however_often_the_lock_is_lifted_a_code_bears_twenty_guesses(door):
    for _ in range(3):
        door.offer()
        guesses = [door.type(WRONG, f"192.168.1.{n % 50}") for n in range(200)]
        assert guesses.count(Refusal.WRONG) == MOST_PER_CODE


def test_a_thousand_guesses_from_as_many_addresses_void_the_code(door):
    code = door.offer()
    answers = [door.type(WRONG, f"192.168.{n // 250}.{n % 250}") for n in range(1000)]
    assert answers.count(Refusal.WRONG) == MOST_PER_CODE
    assert answers[MOST_PER_CODE:] == [Refusal.NO_CODE] * (1000 - MOST_PER_CODE)
    assert door.type(code) is Refusal.NO_CODE
    assert door.state.closed is Closed.GUESSED
    assert len(door.state.tries) <= MOST_PER_CODE  # and no more is kept of them
    assert door.knows(door.type(door.offer()))


def test_without_the_limits_a_thousand_guesses_would_all_be_weighed(door, monkeypatch):
    monkeypatch.setattr(pairing, "MOST_FROM_ADDRESS", 10**9)
    monkeypatch.setattr(pairing, "MOST_PER_CODE", 10**9)
    code = door.offer()
    assert {door.type(WRONG) for _ in range(1000)} == {Refusal.WRONG}
    assert door.knows(door.type(code))


def test_an_address_that_changes_within_its_own_network_is_the_same_source(door):
    door.offer()
    for number in range(MOST_FROM_ADDRESS):
        assert door.type(WRONG, f"fd00::{number + 1:x}%eth0") is Refusal.WRONG
    assert door.type(WRONG, "fd00::ffff") is Refusal.LOCKED
    assert door.type(WRONG, "fd00:0:0:1::1") is Refusal.WRONG
    assert door.type(WRONG, "no address") is Refusal.WRONG


def test_an_ipv4_address_written_as_ipv6_is_the_same_source(door):
    door.offer()
    for _ in range(MOST_FROM_ADDRESS):
        door.type(WRONG, f"::ffff:{PHONE}")
    assert door.type(WRONG, PHONE) is Refusal.LOCKED


def test_a_device_is_let_in_for_a_day(door):
    token = door.type(door.offer())
    door.now += DEVICE_LASTS - dt.timedelta(seconds=1)
    assert door.knows(token)
    door.now += dt.timedelta(seconds=1)
    assert not door.knows(token)


def test_devices_are_limited_and_the_first_makes_room(door):
    tokens = [door.type(door.offer()) for _ in range(MOST_DEVICES + 1)]
    assert [door.knows(token) for token in tokens] == [False] + [True] * MOST_DEVICES


def test_a_state_holds_neither_code_nor_token(door):
    code = door.offer()
    assert code not in door.state.model_dump_json()
    token = door.type(code)
    assert token not in door.state.model_dump_json()
    assert pairing.Pairing.model_validate_json(door.state.model_dump_json()) == door.state


def test_two_states_hash_the_same_code_otherwise():
    first, second = (pairing.begin(random.Random(seed)) for seed in (1, 2))
    offers = [pairing.offer(one, now=NOW, rng=random.Random(7)) for one in (first, second)]
    assert offers[0].code == offers[1].code
    assert offers[0].pairing.code_hash != offers[1].pairing.code_hash
