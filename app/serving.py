"""Starting and stopping the web app, and the fitting worker beside it."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from ipaddress import IPv6Address, ip_address
from pathlib import Path
from typing import Final
from urllib.error import URLError
from urllib.request import ProxyHandler, build_opener

from app.companion import Companion
from app.pages import MOST_UPLOAD_MB
from app.style.theme import theme_flags
from app.tether import OWN_GROUP, TETHERED_VARIABLE
from model.base.errors import InputError, KedgewiseError

LOCAL_ADDRESS: Final = "127.0.0.1"
DEFAULT_PORT: Final = 8501
START_WAIT_S: Final = 60.0
"""How long the web app may take to answer, s; a cold disk takes about ten."""
TEND_EVERY_S: Final = 1.0
"""Time between looks at whether both still run, s."""
STOP_WAIT_S: Final = 10.0
"""How long the web app may take to stop by itself before it is ended, s."""

STORE_VARIABLE: Final = "KEDGEWISE_STORE"
ENTRANCE: Final = Path(__file__).parent / "doors" / "entrance.py"
MOST_MESSAGE_MB: Final = 50
"""Most that goes between a page and its session at once, MB: years of pulls come to a few."""
MOST_INPUT_MB: Final = 1
"""Most that may be typed and chosen on one page, MB."""

_OPENER: Final = build_opener(ProxyHandler({}))
"""Asks this machine itself: a proxy for the internet knows nothing of it."""


def require_local(address: str) -> None:
    """Refuse any address but this machine's own: the web app has no lock on its door."""
    if address not in (LOCAL_ADDRESS, "localhost"):
        raise InputError(
            f"the web app is not served on {address!r}",
            hint=f"It has no password, so it answers on {LOCAL_ADDRESS} only. For a phone on the "
            "boat's own network there is `kedgewise serve --boat`.",
        )


def require_free(port: int, address: str = LOCAL_ADDRESS) -> None:
    """Refuse a port that another program listens on."""
    family = socket.AF_INET6 if _is_6(address) else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.settimeout(1.0)
        if probe.connect_ex((address, port)) == 0:
            raise InputError(
                f"port {port} is in use",
                hint="Stop what runs there, or choose another: `kedgewise serve --port 8502`.",
            )


def command(port: int, address: str = LOCAL_ADDRESS) -> list[str]:
    """The command that serves the web app; as flags, so that it is right from any folder."""
    flags = {
        "server.address": address,
        "server.port": str(port),
        "server.headless": "true",
        "server.showEmailPrompt": "false",
        "server.fileWatcherType": "none",
        "server.maxUploadSize": str(MOST_UPLOAD_MB),
        "server.maxMessageSize": str(MOST_MESSAGE_MB),
        "server.maxWidgetStateSize": str(MOST_INPUT_MB),
        "browser.gatherUsageStats": "false",
        "logger.level": "warning",
    }
    names = (LOCAL_ADDRESS, "localhost") if address == LOCAL_ADDRESS else (address,)
    hosts = [f"--server.allowedHosts={host}" for host in names]
    options = [f"--{name}={value}" for name, value in flags.items()]
    start = [sys.executable, "-m", "streamlit", "run", str(ENTRANCE)]
    return [*start, *options, *hosts, *theme_flags()]


def url_of(port: int, address: str = LOCAL_ADDRESS) -> str:
    """Where a browser finds the web app."""
    return f"http://[{address}]:{port}" if _is_6(address) else f"http://{address}:{port}"


def _is_6(address: str) -> bool:
    return isinstance(ip_address(address), IPv6Address)


def serve(
    folder: Path,
    *,
    port: int = DEFAULT_PORT,
    address: str = LOCAL_ADDRESS,
    when_ready: Callable[[str], None],
    has_worker: bool = True,
    environment: Mapping[str, str] = os.environ,
) -> None:
    """Serve the web app, and fit beside it, until it ends or the caller is interrupted.

    Then both are stopped. A worker that dies is started again a few times; the web app
    goes on without it.

    Parameters
    ----------
    folder : Path
        The store's folder.
    when_ready : callable
        Told the address once the app answers.
    has_worker : bool
        Whether a fitting worker runs beside it.

    Raises
    ------
    InputError
        If the port is in use.
    KedgewiseError
        If the app ends by itself or does not answer.
    """
    require_free(port, address)
    of_store = {**environment, STORE_VARIABLE: str(folder.absolute())}
    process = subprocess.Popen(  # noqa: S603 - our own interpreter and file, no shell
        command(port, address),
        env={**of_store, TETHERED_VARIABLE: "1"},
        stdin=subprocess.PIPE,  # closed when this process ends, however it ends
        # What it greets with is no word of ours; what goes wrong it says on standard error.
        stdout=subprocess.DEVNULL,
        # A terminal's Ctrl-C would reach it too, and it would say so in words of its own.
        start_new_session=True,
        creationflags=OWN_GROUP,
    )
    companion = Companion(folder.absolute(), environment=of_store)
    try:
        url = url_of(port, address)
        _wait_until_ready(process, url)
        when_ready(url)
        if has_worker:
            companion.start()
        code = _tend(process, companion)
    finally:
        companion.ask_to_stop()  # both at once
        stop(process)
        companion.stop()
    raise KedgewiseError(f"the web app ended by itself (code {code})", hint="See the lines above.")


def _tend(process: "subprocess.Popen[bytes]", companion: Companion) -> int:
    """Keep the worker running as long as the web app does; gives the web app's exit code."""
    while True:
        try:
            return process.wait(TEND_EVERY_S)
        except subprocess.TimeoutExpired:
            companion.tend()


def _wait_until_ready(process: "subprocess.Popen[bytes]", url: str) -> None:
    deadline = time.monotonic() + START_WAIT_S
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise KedgewiseError(
                f"the web app did not start (code {process.returncode})",
                hint="See the lines above.",
            )
        if _answers(url):
            return
        time.sleep(0.2)
    raise KedgewiseError(f"the web app did not answer within {START_WAIT_S:.0f} s")


def _answers(url: str) -> bool:
    try:
        with _OPENER.open(f"{url}/_stcore/health", timeout=2.0) as answer:
            return bool(answer.status == 200)
    except (URLError, OSError):
        return False


def stop(process: "subprocess.Popen[bytes]") -> None:
    """End the web app: asked first, then made to."""
    if process.stdin is not None:
        process.stdin.close()
    if process.poll() is None:
        process.terminate()
    try:
        process.wait(STOP_WAIT_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
