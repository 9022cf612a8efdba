"""A phone on the boat: paired by a code, it logs and reads; nobody else gets in."""

import base64
import os
import socket
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from app.doors.rights import BOAT_VARIABLE
from app.serving import STORE_VARIABLE
from model.service.pairing import MOST_FROM_ADDRESS
from model.service.pairing_file import PairingFile
from model.store.store import Store

pytestmark = pytest.mark.browser

PHONE = (390, 844)


class Boat:
    """A served boat: its address, its store, and the terminal's side of its pairing."""

    def __init__(self, address, store, file):
        self.address, self.store, self.file = address, store, file


@pytest.fixture
def boat(tmp_path, servers, small_campaign, small_pulls):
    store = Store.create(tmp_path / "trials", small_campaign)
    store.add_pulls(small_pulls, "made up")
    path = tmp_path / "pairing.json"
    file = PairingFile(path)
    file.begin()
    address = servers.start(store.folder, **{BOAT_VARIABLE: str(path)})
    return Boat(address, store, file)


@pytest.fixture
def phone(visit, boat):
    """Take another phone: each tab has a context of its own, and so no cookie of another's."""
    return lambda: visit(boat.address, *PHONE)


def pair(tab, code):
    tab.page.goto(f"{tab.address}/pair#{code}")
    expect(tab.page.get_by_label("Code from the terminal")).to_have_value(code)
    assert tab.page.url == f"{tab.address}/pair"  # the code is out of the address at once
    tab.page.get_by_role("button", name="Pair this device").click()


def raw(address, request):
    """The status line that some bytes are answered with."""
    host = urlsplit(address)
    with socket.create_connection((host.hostname, host.port), timeout=20) as line:
        line.sendall("\r\n".join([*request, "", ""]).encode())
        return int(line.recv(4096).split()[1])


def get(boat, path, host, *more):
    return raw(boat.address, [f"GET {path} HTTP/1.1", f"Host: {host}", "Connection: close", *more])


def handshake(boat, host, *more):
    key = base64.b64encode(os.urandom(16)).decode()
    upgrade = ("Connection: Upgrade", "Upgrade: websocket", "Sec-WebSocket-Version: 13")
    start = ("GET /_stcore/stream HTTP/1.1", f"Host: {host}", *upgrade)
    return raw(boat.address, [*start, f"Sec-WebSocket-Key: {key}", *more])


def test_a_phone_is_paired_and_logs_a_pull(boat, phone, pictures):
    tab = phone()
    tab.page.goto(f"{tab.address}/pulls")
    expect(tab.page.get_by_role("heading", name="Pair this device")).to_be_visible()
    assert "Small trials" not in tab.page.content()
    tab.page.screenshot(path=pictures / "boat-pairing.png")
    tab.page.goto("about:blank")
    pair(tab, boat.file.offer())
    tab.settle("Log a pull")
    assert tab.overflow_px() <= 0
    assert tab.cut_off() == []
    tab.photograph(pictures, "boat-log")
    tab.page.get_by_label("Pull (its number)").fill("77")
    box = tab.page.get_by_role("combobox", name="How it ended", exact=True)
    box.scroll_into_view_if_needed()
    tab.page.wait_for_timeout(500)  # a list that opens while the page still scrolls closes again
    box.click()
    tab.page.get_by_role("option", name="never set", exact=True).click()
    tab.page.get_by_role("button", name="Store this pull").click()
    expect(tab.page.get_by_text("Stored:")).to_be_visible()
    assert [pull.code for pull in boat.store.pulls()].count("77") == 1
    for path, heading in (("pulls", "Pulls"), ("questions", "Questions"), ("ask", "Ask")):
        tab.open(path, heading)
        assert tab.overflow_px() <= 0
    expect(tab.page.locator("input[type=file]")).to_have_count(0)
    assert tab.outside() == []
    assert tab.errors == []


def test_a_second_phone_and_a_used_code_are_refused(boat, phone):
    code = boat.file.offer()
    first, second = phone(), phone()
    pair(first, code)
    first.settle("Log a pull")
    pair(second, code)
    expect(second.page.get_by_role("alert")).to_contain_text("No code is open")
    second.page.goto(f"{second.address}/ask")
    expect(second.page.get_by_role("heading", name="Pair this device")).to_be_visible()
    second.page.goto("about:blank")
    pair(second, boat.file.offer())
    second.settle("Log a pull")


def test_guesses_are_locked_out_and_a_reload_does_not_help(boat, phone):
    tab = phone()
    code = boat.file.offer()
    for _ in range(MOST_FROM_ADDRESS):
        tab.page.goto(f"{tab.address}/pair")
        tab.page.get_by_label("Code from the terminal").fill("WRONGONE")
        tab.page.get_by_role("button", name="Pair this device").click()
        expect(tab.page.get_by_role("alert")).to_contain_text("not the code")
    tab.page.reload()
    tab.page.goto("about:blank")
    pair(tab, code)
    expect(tab.page.get_by_role("alert")).to_contain_text("Too many wrong codes")


def test_a_phone_whose_pairing_ends_sees_nothing_new(boat, phone):
    tab = phone()
    pair(tab, boat.file.offer())
    tab.settle("Log a pull")
    boat.file.begin()
    tab.page.get_by_role("link", name="Pulls", exact=True).click()
    expect(tab.page.get_by_text("not paired any more")).to_be_visible()
    expect(tab.page.get_by_text("Small trials")).to_have_count(0)


def test_an_open_page_that_lost_its_server_says_what_to_do(boat, phone, servers, pictures):
    """As after `serve` was stopped and started again, which pairs nobody."""
    tab = phone()
    pair(tab, boat.file.offer())
    tab.settle("Log a pull")
    servers.start_again(boat.address, meanwhile=boat.file.begin)
    dialog = tab.page.get_by_role("dialog")
    expect(dialog).to_contain_text("Reload this page and pair it anew", timeout=60_000)
    expect(dialog).not_to_contain_text("CORS")
    tab.page.screenshot(path=pictures / "boat-lost.png")
    tab.page.reload()
    expect(tab.page.get_by_role("heading", name="Pair this device")).to_be_visible()


def test_a_new_link_takes_away_what_was_said_of_the_code_before(boat, phone):
    tab = phone()
    boat.file.offer()
    pair(tab, "WRONGONE")
    expect(tab.page.get_by_role("alert")).to_contain_text("not the code")
    code = boat.file.offer()
    tab.page.goto(f"{tab.address}/pair#{code}")
    expect(tab.page.get_by_label("Code from the terminal")).to_have_value(code)
    expect(tab.page.get_by_role("alert")).to_have_count(0)


def test_a_forged_host_and_a_foreign_page_are_refused(boat, phone):
    tab = phone()
    pair(tab, boat.file.offer())
    tab.settle("Log a pull")
    [device] = [one for one in tab.page.context.cookies() if one["name"].startswith("kedgewise")]
    assert device["httpOnly"]
    cookie = f"Cookie: {device['name']}={device['value']}"
    own = urlsplit(boat.address).netloc
    assert get(boat, "/", own, cookie) == 200
    assert handshake(boat, own, cookie) == 101
    for host in ("evil.example", f"{own}.evil.example"):
        for path in ("/", "/pair", "/_stcore/health", "/static/index.html"):
            assert get(boat, path, host, cookie) == 421
        assert handshake(boat, host, cookie) == 403
    assert handshake(boat, own, cookie, "Origin: http://evil.example") == 403
    assert handshake(boat, own, cookie, "Origin: http://localhost:1") == 403
    assert handshake(boat, own) == 403
    assert get(boat, "/_stcore/metrics", own, cookie) == 403
    assert get(boat, "/_stcore/metrics", own) == 403
    assert get(boat, "/media/x.png", own) == 403


def test_ashore_a_forged_host_is_refused_too(trials):
    class Ashore:
        address = trials

    own = urlsplit(trials).netloc
    assert get(Ashore, "/", own) == 200
    assert handshake(Ashore, own) == 101
    assert get(Ashore, "/", "evil.example") == 421
    assert handshake(Ashore, "evil.example") == 403
    assert handshake(Ashore, own, "Origin: http://127.0.0.1:1") == 403


def test_no_secret_is_in_a_log_a_command_line_or_an_address(boat, phone, servers):
    tab = phone()
    code = boat.file.offer()
    pair(tab, code)
    tab.settle("Log a pull")
    cookies = tab.page.context.cookies()
    [token] = [one["value"] for one in cookies if one["name"].startswith("kedgewise")]
    process = Path("/proc") / str(servers.process_ids[boat.address])
    environment = (process / "environ").read_text()
    assert STORE_VARIABLE in environment
    places = {
        "log": servers.logs[boat.address].read_text(),
        "command line": (process / "cmdline").read_text(),
        "environment": environment,
        "addresses": " ".join(url.partition("#")[0] for url in tab.requests),
        "script's own cookies": tab.page.evaluate("document.cookie"),
    }
    for place, text in places.items():
        assert code not in text, place
        assert token not in text, place
