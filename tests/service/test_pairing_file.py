"""The file of pairing between two processes; of no file nobody is let in."""

import datetime as dt
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext

import pytest

from model.service.pairing import MOST_FROM_ADDRESS, MOST_PER_CODE, Refusal
from model.service.pairing_file import PairingFile

NOW = dt.datetime(2026, 5, 3, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def path(tmp_path):
    PairingFile(tmp_path / "pairing.json").begin()
    return tmp_path / "pairing.json"


def test_what_one_process_does_the_other_sees(path):
    terminal, web = PairingFile(path), PairingFile(path)
    assert not web.is_open()
    code = terminal.offer()
    assert web.is_open()
    token = web.try_code(code, address="192.168.1.20")
    assert not terminal.is_open()
    assert terminal.is_paired(token)
    assert web.is_paired(token)
    assert not web.is_paired(code)


def test_a_lock_outlives_a_reload_and_another_start_of_the_web_app(path):
    code = PairingFile(path).offer()
    for _ in range(MOST_FROM_ADDRESS):
        PairingFile(path).try_code("wrong", address="192.168.1.20")
    assert PairingFile(path).try_code(code, address="192.168.1.20") is Refusal.LOCKED


def test_another_start_of_serve_knows_no_code_and_no_device(path):
    code = PairingFile(path).offer()
    token = PairingFile(path).try_code(code, address="192.168.1.20")
    new = PairingFile(path).offer()
    PairingFile(path).begin()
    assert not PairingFile(path).is_paired(token)
    assert PairingFile(path).try_code(new, address="192.168.1.20") is Refusal.NO_CODE


def guess_at_once(path):
    file = PairingFile(path)
    file.offer()
    with ThreadPoolExecutor(8) as pool:
        return list(
            pool.map(
                lambda n: file.try_code("wrong", address=f"10.0.0.{n}"), range(2 * MOST_PER_CODE)
            )
        )


def test_guesses_at_once_count_as_many(path):
    found = guess_at_once(path)
    assert found.count(Refusal.WRONG) == MOST_PER_CODE
    assert PairingFile(path).state().wrong == MOST_PER_CODE


def test_without_the_lock_some_would_not_be_counted(path, monkeypatch):
    import time

    monkeypatch.setattr(PairingFile, "_lock", lambda self: nullcontext())
    read = PairingFile._read

    def slow(self):
        found = read(self)
        time.sleep(0.02)
        return found

    monkeypatch.setattr(PairingFile, "_read", slow)
    assert guess_at_once(path).count(Refusal.WRONG) > MOST_PER_CODE


@pytest.mark.parametrize("content", [None, b"", b"{", b'{"salt": 1}', b"\xff"])
def test_of_no_sound_file_nobody_is_let_in(path, content):
    file = PairingFile(path)
    token = file.try_code(file.offer(), address="10.0.0.1")
    assert file.is_paired(token)
    if content is None:
        path.unlink()
    else:
        path.write_bytes(content)
    assert not file.is_paired(token)


def test_the_clock_is_asked_each_time(path):
    now = [NOW]
    file = PairingFile(path, clock=lambda: now[0])
    token = file.try_code(file.offer(), address="10.0.0.1")
    assert file.is_paired(token)
    now[0] += dt.timedelta(days=2)
    assert not file.is_paired(token)


def test_neither_code_nor_token_is_on_the_disk(path):
    file = PairingFile(path)
    code = file.offer()
    token = file.try_code(code, address="10.0.0.1")
    for one in path.parent.iterdir():
        assert code.encode() not in one.read_bytes()
        assert str(token).encode() not in one.read_bytes()
