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
from model.service.private_addresses import OwnAddress
from model.store.store import Store

BOAT = OwnAddress(address="192.168.4.2", adapter="wlan0")


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


class Terminal:
    """A program in a terminal: what it wrote so far, and keys."""

    def __init__(self, arguments):
        self.master, slave = os.openpty()
        self.process = subprocess.Popen(
            arguments, stdin=slave, stdout=slave, stderr=slave, start_new_session=True
        )
        os.close(slave)
        self.written = b""
        threading.Thread(target=self._read, daemon=True).start()

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

    def press_enter(self):
        os.write(self.master, b"\n")


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
    terminal = Terminal([sys.executable, "-c", RUN, *arguments])
    url = f"http://127.0.0.1:{free_port}"
    try:
        first = terminal.wait_for(r"type (\w{4}-\w{4})")
        assert "▀" in terminal.written.decode()
        terminal.press_enter()
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
