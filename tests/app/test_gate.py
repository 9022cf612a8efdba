"""What the gate lets through to Streamlit and what not, request by request, without a server."""

import asyncio
import json
import logging
from dataclasses import dataclass

import pytest

from app.doors import gate as gates
from app.doors.gate import Gate, host_name
from app.doors.rights import cookie_name
from model.service.pairing import MOST_FROM_ADDRESS
from model.service.pairing_file import PairingFile

ADDRESS, PORT = "192.168.4.2", 8501
HOST = f"{ADDRESS}:{PORT}"
PHONE = ("192.168.4.20", 50000)
OTHER_PHONE = ("192.168.4.21", 50000)


@dataclass
class Reply:
    status: int
    headers: list
    body: bytes
    is_passed_on: bool

    def header(self, name):
        return {key.decode(): value.decode() for key, value in self.headers}.get(name)


class Asked:
    """Asks a gate as a web server does; behind it stands a stand-in that notes what came."""

    def __init__(self, pairing, hosts=(ADDRESS,)):
        self.passed = []
        self.gate = Gate(self._behind, hosts=hosts, port=PORT, pairing=pairing)

    async def _behind(self, scope, receive, send):
        self.passed.append(scope["path"])
        if scope["type"] == "websocket":
            await send({"type": "websocket.accept"})
            return
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"the store's"})

    def __call__(
        self, path, method="GET", *, host=HOST, body=b"", kind="http", client=PHONE, **headers
    ):
        named = [(key.replace("_", "-").encode(), value.encode()) for key, value in headers.items()]
        hosts = [host] if isinstance(host, str) else host
        named += [(b"host", one.encode()) for one in hosts]
        scope = {"type": kind, "path": path, "headers": named, "client": client}
        if kind == "http":
            scope["method"] = method
        parts = [body[:700], body[700:]]
        sent = []

        async def receive():
            return {"type": "http.request", "body": parts.pop(0), "more_body": len(parts) > 0}

        async def send(message):
            sent.append(message)

        before = len(self.passed)
        asyncio.run(self.gate(scope, receive, send))
        start = sent[0]
        opened = {"websocket.accept": 101, "websocket.close": 403}
        return Reply(
            status=start.get("status") or opened[start["type"]],
            headers=start.get("headers", []),
            body=b"".join(message.get("body", b"") for message in sent),
            is_passed_on=len(self.passed) > before,
        )

    def socket(self, **headers):
        return self("/_stcore/stream", kind="websocket", **headers)

    def pair(self, code, **also):
        return self("/pair", "POST", body=f"code={code}".encode(), **also)


@pytest.fixture
def file(tmp_path):
    made = PairingFile(tmp_path / "pairing.json")
    made.begin()
    return made


@pytest.fixture
def asked(file):
    return Asked(file)


@pytest.fixture
def ashore():
    """On the owner's own machine: no pairing."""
    return Asked(None, hosts=("127.0.0.1", "localhost"))


def cookie_of(reply):
    return reply.header("set-cookie").partition(";")[0]


# --- by which name, and from where ---------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    [
        *("evil.example", f"evil.example:{PORT}", "", "localhost", f"{HOST}.evil.example"),
        *(f"evil@{HOST}", f"{HOST}/x", f"{HOST}?x", f"{HOST}#x", f"{ADDRESS}:port", f" {HOST}"),
        *("[fd00::1", f"{ADDRESS},evil.example", [], [HOST, HOST], [HOST, "evil.example"]),
    ],
)
def test_a_forged_host_is_refused_for_pages_files_and_sockets(asked, ashore, host):
    for one in (asked, ashore):
        if one is ashore and host == "localhost":
            continue
        assert one("/", host=host).status == 421
        assert one("/_stcore/health", host=host).status == 421
        assert one("/pair", "POST", host=host, body=b"code=x").status == 421
        assert one.socket(host=host).status == 403
        assert one.passed == []


def test_its_own_names_are_let_in_at_any_port(ashore):
    for host in ("127.0.0.1:8501", "localhost:9000", "LOCALHOST", "127.0.0.1"):
        assert ashore("/ask", host=host).is_passed_on
        assert ashore.socket(host=host).is_passed_on
    assert host_name("[fd00::1]:8501") == "fd00::1"


def test_without_the_look_at_hosts_a_forged_one_would_come_through(ashore, monkeypatch):
    monkeypatch.setattr(gates, "host_name", lambda header: "localhost")
    assert ashore("/", host="evil.example").is_passed_on


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", "https://127.0.0.1:8501", "http://127.0.0.1:9999", ""],
)
def test_a_page_of_another_site_opens_no_socket_and_sends_no_form(ashore, origin):
    host = "127.0.0.1:8501"
    assert ashore.socket(host=host, origin=origin).status == 403
    assert ashore("/_stcore/upload_file/a/b", "PUT", host=host, origin=origin).status == 403
    assert ashore.passed == []
    assert ashore.socket(host=host, origin=f"http://{host}").is_passed_on


def test_without_the_look_at_origins_it_would(ashore, monkeypatch):
    monkeypatch.setattr(gates, "_is_same_origin", lambda origin, host: True)
    assert ashore.socket(host="127.0.0.1:8501", origin="http://evil.example").is_passed_on


# --- before pairing ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/static/index.html"),
        ("GET", "/media/0123.png"),
        ("GET", "/_stcore/metrics"),
        ("GET", "/_stcore/agent/v1"),
        ("PUT", "/_stcore/upload_file/session/file"),
        ("DELETE", "/_stcore/upload_file/session/file"),
        ("OPTIONS", "/_stcore/upload_file/session/file"),
        ("POST", "/"),
        ("POST", "/pair/"),
        ("HEAD", "/"),
        ("TRACE", "/"),
    ],
)
def test_who_is_not_paired_gets_no_file_and_sends_none(asked, method, path):
    reply = asked(path, method)
    assert reply.status == 403
    assert reply.body == b"Not paired."
    assert asked.passed == []


@pytest.mark.parametrize("path", ["/", "/ask", "/pulls", "//pair", "/pair/../ask", "/PAIR"])
def test_who_is_not_paired_is_led_to_the_pairing_page(asked, path):
    reply = asked(path)
    assert (reply.status, reply.header("location")) == (303, "/pair")
    assert asked.passed == []


def test_who_is_not_paired_opens_no_session(asked):
    name = cookie_name(PORT)
    for cookie in ("", f"{name}=", f"{name}={'0' * 64}", f"{name}", "\x00", "a" * 9000, ";=;"):
        assert asked.socket(cookie=cookie).status == 403
    assert asked("/pair", kind="websocket").status == 403
    assert asked.passed == []


def test_an_open_page_that_is_paired_no_longer_gets_words_to_show(asked):
    """Of a 403 it would say that the server's settings are to blame; it reads nothing but JSON."""
    reply = asked("/_stcore/host-config")
    assert reply.status == 401
    assert reply.header("www-authenticate")
    assert "pair it anew" in json.loads(reply.body)
    assert max(map(len, json.loads(reply.body).splitlines())) <= 30  # of a phone 360 px wide
    assert asked.passed == []


def test_whether_it_answers_is_no_secret(asked):
    assert asked("/_stcore/health").is_passed_on


def test_the_pairing_page_runs_nothing_but_its_own_and_keeps_nothing(asked):
    reply = asked("/pair")
    assert reply.status == 200
    assert "default-src 'none'" in reply.header("content-security-policy")
    assert "unsafe" not in reply.header("content-security-policy")
    assert reply.header("cache-control") == "no-store"
    assert asked.passed == []


# --- pairing -------------------------------------------------------------------------------


def test_a_paired_device_gets_pages_and_a_session(asked, file):
    reply = asked.pair(file.offer(), origin=f"http://{HOST}")
    assert (reply.status, reply.header("location")) == (303, "/")
    said = reply.header("set-cookie").lower()
    assert "httponly" in said
    assert "samesite=lax" in said
    cookie = cookie_of(reply)
    for path in ("/", "/ask", "/static/js/index.js", "/media/x.png", "/_stcore/host-config"):
        assert asked(path, cookie=f"other=1; {cookie}").is_passed_on
    page = asked("/", cookie=cookie)
    assert page.header("x-frame-options") == "DENY"
    assert page.header("x-content-type-options") == "nosniff"
    assert asked.socket(cookie=cookie).is_passed_on


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("PUT", "/_stcore/upload_file/session/file"),
        ("DELETE", "/_stcore/upload_file/session/file"),
        ("OPTIONS", "/_stcore/upload_file/session/file"),
        ("POST", "/"),
        ("GET", "/_stcore/metrics"),
        ("GET", "/_stcore/agent/v1"),
        ("GET", "/_stcore/script-health-check"),
    ],
)
def test_a_paired_device_uploads_nothing_and_reads_no_figures_of_use(asked, file, method, path):
    cookie = cookie_of(asked.pair(file.offer()))
    assert asked(path, method, cookie=cookie).status == 403
    assert asked.passed == []


def test_a_code_is_not_taken_twice_nor_by_a_second_device(asked, file):
    code = file.offer()
    assert asked.pair(code).status == 303
    assert asked.pair(code).status == 403
    assert asked.pair(code, client=OTHER_PHONE).status == 403


def test_a_thousand_guesses_are_locked_out(asked, file):
    code = file.offer()
    found = [asked.pair(f"{number:08d}").status for number in range(1000)]
    assert found == [403] * MOST_FROM_ADDRESS + [429] * (1000 - MOST_FROM_ADDRESS)
    assert asked.pair(code).status == 429
    assert asked.pair(code, client=OTHER_PHONE).status == 303


def test_a_form_that_is_none_counts_as_a_wrong_code(asked, file):
    file.offer()
    for body in (b"", b"code", b"code=" + b"x" * 5000, b"\xff\xfe=\x00", b"a=1&b=2"):
        assert (
            asked("/pair", "POST", body=body, client=(f"10.0.0.{len(body) % 250}", 1)).status == 403
        )
    assert file.state().wrong == 5


def test_what_is_typed_never_comes_back_on_the_page(asked, file):
    file.offer()
    reply = asked.pair("<script>gotcha(1)</script>")
    assert b"gotcha" not in reply.body
    assert asked.passed == []


def test_no_code_and_no_token_is_logged(asked, file, caplog):
    caplog.set_level(logging.DEBUG)
    code = file.offer()
    asked.pair("WRONGONE")
    token = cookie_of(asked.pair(code)).partition("=")[2]
    asked.pair(code)
    asked("/", cookie=f"{cookie_name(PORT)}={token}")
    said = "\n".join(record.getMessage() for record in caplog.records)
    assert "was not paired" in said
    for secret in (code, token, "WRONGONE"):
        assert secret not in said


def test_no_guess_and_no_refusal_is_a_line_in_the_terminal(asked, file, caplog):
    """Who guesses would else scroll the code away there; a lockout is said by `changes_of`."""
    caplog.set_level(logging.DEBUG)
    file.offer()
    for _ in range(MOST_FROM_ADDRESS + 1):
        asked.pair("WRONGONE")
    asked("/", host="evil.example")
    asked.socket(origin="http://evil.example")
    assert len(caplog.records) >= MOST_FROM_ADDRESS + 3
    assert {record.levelno for record in caplog.records} <= {logging.DEBUG, logging.INFO}


def test_without_the_file_nobody_is_let_in(asked, file, tmp_path):
    cookie = cookie_of(asked.pair(file.offer()))
    assert asked("/", cookie=cookie).is_passed_on
    (tmp_path / "pairing.json").unlink()
    assert asked("/", cookie=cookie).status == 303
    assert asked.socket(cookie=cookie).status == 403


def test_without_the_question_whether_it_is_paired_anybody_would_come_in(asked, file, monkeypatch):
    monkeypatch.setattr(file, "is_paired", lambda token: True)
    assert asked("/").is_passed_on
    assert asked.socket().is_passed_on
