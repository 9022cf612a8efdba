"""``kedgewise serve --boat``: what it refuses, and one whole run in a terminal of its own."""

import os
import re
import signal
import subprocess
import sys
import threading
import time
import urllib.parse
import urllib.request
from urllib.error import HTTPError

import pytest

from app.doors import own_addresses as own
from app.serving import LOCAL_ADDRESS, command, url_of
from model.service.pairing import MOST_FROM_ADDRESS
from model.service.private_addresses import OwnAddress
from model.store.store import Store

ENTER, CTRL_C = b"\n", b"\x03"
BOAT = OwnAddress(address="192.168.4.2", adapter="wlan0")

ENDS_WITHIN_S = 120
"""A machine under load is slow to start what is to be stopped; an idle one takes a second."""


def test_addresses_of_this_machine_are_found():
    assert LOCAL_ADDRESS in [one.address for one in own.own_addresses()]


def test_the_web_app_answers_on_one_address_and_to_its_name_alone():
    flags = command(8501, "192.168.4.2")
    assert "--server.address=192.168.4.2" in flags
    hosts = [flag for flag in flags if flag.startswith("--server.allowedHosts")]
    assert hosts == ["--server.allowedHosts=192.168.4.2"]
    assert url_of(8501, "fd00::2") == "http://[fd00::2]:8501"


@pytest.mark.parametrize("wanted", ["0.0.0.0", "::", "203.0.113.9", "127.0.0.1"])  # noqa: S104
def test_without_a_sign_in_no_other_address_is_served(kedgewise, monkeypatch, wanted):
    monkeypatch.setattr(own, "own_addresses", lambda: [BOAT])
    found = kedgewise("serve", "--boat", "--address", wanted, "--json")
    assert found.code == 2
    assert "is no private address" in found.json["error"]
    if wanted != LOCAL_ADDRESS:
        found = kedgewise("serve", "--address", wanted)
        assert found.code == 2
        assert "--boat" in found.err


def test_of_several_addresses_one_must_be_chosen(kedgewise, monkeypatch):
    other = OwnAddress(address="10.0.0.7", adapter="eth0")
    monkeypatch.setattr(own, "own_addresses", lambda: [BOAT, other])
    found = kedgewise("serve", "--boat")
    assert found.code == 2
    assert "192.168.4.2 (wlan0), 10.0.0.7 (eth0)" in found.err


def test_a_code_goes_into_no_file(kedgewise, monkeypatch):
    monkeypatch.setattr(own, "own_addresses", lambda: [BOAT])
    for more in ((), ("--json",)):
        found = kedgewise("serve", "--boat", *more)
        assert found.code == 2
        assert "no terminal" in found.err


# Loopback stands in for the boat's network: there is none that every machine has.
RUN = """
from ipaddress import ip_network
from app.cli import main
from app.doors import own_addresses
from model.service import private_addresses as chosen
chosen.PRIVATE_NETWORKS = (ip_network("127.0.0.0/8"),)
own_addresses.own_addresses = lambda: [chosen.OwnAddress(address="127.0.0.1", adapter="lo")]
main()
"""


# The web app in the group of `serve`, which a terminal's Ctrl-C reaches as a whole.
IN_ONE_GROUP = """
import subprocess, types
from app import serving
def popen(*given, start_new_session, **more):
    return subprocess.Popen(*given, **more)
serving.subprocess = types.SimpleNamespace(**{**vars(subprocess), "Popen": popen})
"""
# As what a script starts in the background finds it.
CTRL_C_IGNORED = """
import signal
signal.signal(signal.SIGINT, signal.SIG_IGN)
"""
# A program whose controlling terminal is its standard input, as that of one started in a shell.
IN_A_TERMINAL = """
import fcntl, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
"""


class Terminal:
    """A program in a terminal: what it wrote so far, and keys."""

    def __init__(self, lines, *arguments):
        self.master, slave = os.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-c", IN_A_TERMINAL + lines, *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
        )
        os.close(slave)
        self.written = b""
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self):
        try:
            while part := os.read(self.master, 65536):
                self.written += part
        except OSError:  # the program has ended
            return

    def wait_for(self, pattern, count=1):
        deadline = time.monotonic() + 90
        while len(found := re.findall(pattern, self.written.decode("utf-8", "replace"))) < count:
            assert self.process.poll() is None, self.written.decode()
            assert time.monotonic() < deadline, self.written.decode()
            time.sleep(0.1)
        return found[-1]

    def wait_for_end(self):
        """Until all that was written has been read."""
        self.reader.join(30)

    def press(self, key):
        os.write(self.master, key)


def pair(url, code):
    body = urllib.parse.urlencode({"code": code}).encode()
    try:
        with urllib.request.urlopen(f"{url}/pair", body) as answer:  # noqa: S310
            return answer.status
    except HTTPError as error:
        error.close()
        return error.code


@pytest.mark.skipif(os.name == "nt", reason="there is no terminal to be had there")
def test_a_whole_run_in_a_terminal(tmp_path, small_campaign, free_port):
    store = Store.create(tmp_path / "store", small_campaign)
    arguments = ("serve", "--boat", "--store", str(store.folder), "--port", str(free_port))
    terminal = Terminal(RUN, *arguments)
    url = f"http://127.0.0.1:{free_port}"
    try:
        first = terminal.wait_for(r"type (\w{4}-\w{4})")
        assert "▀" in terminal.written.decode()
        terminal.press(ENTER)
        second = terminal.wait_for(r"type (\w{4}-\w{4})", 2)
        assert first != second
        assert pair(url, first) == 403
        assert pair(url, second) == 200
        terminal.wait_for(r"Paired: a device at 127\.0\.0\.1")
        assert pair(url, second) == 403
    finally:
        terminal.process.send_signal(signal.SIGTERM)
        terminal.process.wait(30)
    assert terminal.process.returncode == 0
    written = terminal.written.decode()
    assert "Stopped." in written
    assert "Traceback" not in written
    assert not list(store.folder.rglob("pairing*"))


@pytest.mark.skipif(os.name == "nt", reason="there is no terminal to be had there")
@pytest.mark.parametrize("has_own_group", [True, False])
def test_others_write_one_line_in_the_terminal_and_ctrl_c_one(
    has_own_group, tmp_path, small_campaign, free_port
):
    store = Store.create(tmp_path / "store", small_campaign)
    lines = CTRL_C_IGNORED + RUN if has_own_group else IN_ONE_GROUP + RUN
    arguments = ("serve", "--boat", "--store", str(store.folder), "--port", str(free_port))
    terminal = Terminal(lines, *arguments)
    try:
        terminal.wait_for(r"Press Enter for a new code\.")
        for _ in range(MOST_FROM_ADDRESS):
            assert pair(f"http://127.0.0.1:{free_port}", "WRONGONE") == 403
        terminal.wait_for(r"locked out until \d\d:\d\d, or until there is a new code\.")
    finally:
        terminal.press(CTRL_C)
        terminal.process.wait(ENDS_WITHIN_S)
    # In one group the web app hears of it first, and `serve` may find it gone before it is told.
    assert terminal.process.returncode == 0 or not has_own_group
    terminal.wait_for_end()
    since = terminal.written.decode().replace("^C", "").partition("Press Enter for a new code.")[2]
    of_others, _, ended = since.partition("there is a new code.")
    assert of_others.strip().startswith("5 wrong codes from 127.0.0.1: locked out until")
    assert (ended.strip() == "Stopped. No device is paired any more.") is has_own_group
