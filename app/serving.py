"""Starting and stopping the web app, and the fitting worker beside it."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final
from urllib.error import URLError
from urllib.request import urlopen

from app.companion import Companion
from app.style.theme import theme_flags
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
MAIN: Final = Path(__file__).parent / "main.py"


def require_local(address: str) -> None:
    """Refuse any address but this machine's own: the web app has no lock on its door."""
    if address not in (LOCAL_ADDRESS, "localhost"):
        raise InputError(
            f"the web app is not served on {address!r}",
            hint=f"It has no password, so it answers on {LOCAL_ADDRESS} only.",
        )


def require_free(port: int) -> None:
    """Refuse a port that another program listens on."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.settimeout(1.0)
        if probe.connect_ex((LOCAL_ADDRESS, port)) == 0:
            raise InputError(
                f"port {port} is in use",
                hint="Stop what runs there, or choose another: `kedgewise serve --port 8502`.",
            )


def command(port: int) -> list[str]:
    """The command that serves the web app; as flags, so that it is right from any folder."""
    flags = {
        "server.address": LOCAL_ADDRESS,
        "server.port": str(port),
        "server.headless": "true",
        "server.showEmailPrompt": "false",
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": "false",
        "logger.level": "warning",
    }
    hosts = [f"--server.allowedHosts={host}" for host in (LOCAL_ADDRESS, "localhost")]
    options = [f"--{name}={value}" for name, value in flags.items()]
    return [sys.executable, "-m", "streamlit", "run", str(MAIN), *options, *hosts, *theme_flags()]


def url_of(port: int) -> str:
    """Where a browser on this machine finds the web app."""
    return f"http://{LOCAL_ADDRESS}:{port}"


def serve(
    folder: Path,
    *,
    port: int = DEFAULT_PORT,
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
    require_free(port)
    of_store = {**environment, STORE_VARIABLE: str(folder.absolute())}
    process = subprocess.Popen(  # noqa: S603 - our own interpreter and file, no shell
        command(port),
        env=of_store,
        stdin=subprocess.DEVNULL,
        # What it greets with is no word of ours; what goes wrong it says on standard error.
        stdout=subprocess.DEVNULL,
    )
    companion = Companion(folder.absolute(), environment=of_store)
    try:
        _wait_until_ready(process, port)
        when_ready(url_of(port))
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


def _wait_until_ready(process: "subprocess.Popen[bytes]", port: int) -> None:
    deadline = time.monotonic() + START_WAIT_S
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise KedgewiseError(
                f"the web app did not start (code {process.returncode})",
                hint="See the lines above.",
            )
        if _answers(port):
            return
        time.sleep(0.2)
    raise KedgewiseError(f"the web app did not answer within {START_WAIT_S:.0f} s")


def _answers(port: int) -> bool:
    try:
        with urlopen(f"{url_of(port)}/_stcore/health", timeout=2.0) as answer:  # noqa: S310
            return bool(answer.status == 200)
    except (URLError, OSError):
        return False


def stop(process: "subprocess.Popen[bytes]") -> None:
    """End the web app: asked first, then made to."""
    if process.poll() is None:
        process.terminate()
    try:
        process.wait(STOP_WAIT_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
