import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request

import pytest

from app import serving
from app.serving import LOCAL_ADDRESS, STORE_VARIABLE, command, require_free, require_local
from app.tether import TETHERED_VARIABLE
from model.base.errors import InputError, KedgewiseError
from model.store.store import Store


def test_only_this_machine_is_served():
    require_local("127.0.0.1")
    require_local("localhost")
    for address in ("::", "192.168.1.2", ""):
        with pytest.raises(InputError, match="is not served on"):
            require_local(address)


def test_a_port_in_use_is_said(free_port):
    require_free(free_port)
    with socket.socket() as taken:
        taken.bind((LOCAL_ADDRESS, free_port))
        taken.listen()
        with pytest.raises(InputError, match="is in use"):
            require_free(free_port)


def test_streamlit_knows_every_flag(free_port):
    from streamlit import config

    flags = [part for part in command(free_port) if part.startswith("--")]
    names = {flag.removeprefix("--").partition("=")[0] for flag in flags}
    known = set(config._config_options_template)
    assert names - known == set()
    assert "--server.address=127.0.0.1" in flags
    assert "--browser.gatherUsageStats=false" in flags


def test_an_app_that_ends_at_once_is_said(tmp_path, free_port, monkeypatch):
    broken = [sys.executable, "-c", "raise SystemExit(7)"]
    monkeypatch.setattr(serving, "command", lambda port, address: broken)
    with pytest.raises(KedgewiseError, match=r"did not start \(code 7\)"):
        serving.serve(tmp_path, port=free_port, when_ready=pytest.fail)


@pytest.mark.skipif(os.name == "nt", reason="needs to interrupt one process alone")
def test_serve_answers_tells_its_store_and_stops_on_request(tmp_path, small_campaign, free_port):
    store = Store.create(tmp_path / "store", small_campaign)
    out, err = (tmp_path / "out").open("w"), (tmp_path / "err").open("w")
    process = subprocess.Popen(
        [
            *(sys.executable, "-c", "from app.cli import main; main()", "serve", "--json"),
            *("--store", str(store.folder), "--port", str(free_port)),
        ],
        stdout=out,
        stderr=err,
    )
    try:
        deadline = time.monotonic() + 90
        while not (tmp_path / "out").read_text() and process.poll() is None:
            assert time.monotonic() < deadline
            time.sleep(0.2)
        said = json.loads((tmp_path / "out").read_text())
        assert said == {"url": f"http://127.0.0.1:{free_port}", "store": str(store.folder)}
        with urllib.request.urlopen(f"{said['url']}/_stcore/health") as answer:  # noqa: S310
            assert answer.status == 200
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)
        out.close()
        err.close()
    assert process.returncode == 0
    # Nothing but our own word: no greeting, no lines of the server.
    assert (tmp_path / "err").read_text().splitlines() == ["Stopped."]
    require_free(free_port)  # nothing was left running


def _until_it_answers(port, process):
    deadline = time.monotonic() + 90
    while not serving._answers(serving.url_of(port)):
        assert process.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.2)


@pytest.mark.parametrize("is_tethered", [True, False])
def test_the_web_app_ends_with_whoever_started_it(is_tethered, tmp_path, small_campaign, free_port):
    """Its standard input closes when the other end dies, however it died."""
    store = Store.create(tmp_path / "store", small_campaign)
    process = subprocess.Popen(
        command(free_port),
        env={
            **os.environ,
            STORE_VARIABLE: str(store.folder),
            TETHERED_VARIABLE: "1" if is_tethered else "",
        },
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
    )
    try:
        _until_it_answers(free_port, process)
        process.stdin.close()
        if is_tethered:
            process.wait(30)
            require_free(free_port)
        else:
            with pytest.raises(subprocess.TimeoutExpired):
                process.wait(3)
            assert serving._answers(serving.url_of(free_port))
    finally:
        process.kill()
        process.wait()


@pytest.mark.skipif(os.name == "nt", reason="needs to kill one process alone")
def test_a_serve_that_was_killed_leaves_no_door_open(tmp_path, small_campaign, free_port):
    store = Store.create(tmp_path / "store", small_campaign)
    process = subprocess.Popen(
        [
            *(sys.executable, "-c", "from app.cli import main; main()", "serve", "--no-worker"),
            *("--store", str(store.folder), "--port", str(free_port)),
        ],
        stdout=subprocess.DEVNULL,
    )
    try:
        _until_it_answers(free_port, process)
    finally:
        process.kill()
        process.wait()
    deadline = time.monotonic() + 30
    while serving._answers(serving.url_of(free_port)):
        assert time.monotonic() < deadline
        time.sleep(0.2)
    require_free(free_port)


@pytest.mark.parametrize("is_quiet", [True, False])
def test_what_is_no_request_is_no_line_in_the_terminal(
    is_quiet, tmp_path, small_campaign, free_port, monkeypatch
):
    """Else anyone on a boat's network could scroll the code for pairing out of sight."""
    store = Store.create(tmp_path / "store", small_campaign)
    if not is_quiet:
        loud = serving.ENTRANCE.read_text().replace("logging.ERROR", "logging.WARNING")
        (tmp_path / "loud.py").write_text(loud)
        monkeypatch.setattr(serving, "ENTRANCE", tmp_path / "loud.py")
    log = tmp_path / "log"
    with log.open("w") as output:
        process = subprocess.Popen(
            command(free_port),
            env={**os.environ, STORE_VARIABLE: str(store.folder)},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=output,
        )
    try:
        _until_it_answers(free_port, process)
        for sent in (b"x\r\n\r\n", b"\x16\x03\x01\x02\x00\x01"):
            with socket.create_connection((LOCAL_ADDRESS, free_port), timeout=20) as line:
                line.sendall(sent)
                assert b" 400 " in line.recv(4096)
    finally:
        serving.stop(process)
    assert (log.read_text() == "") is is_quiet
