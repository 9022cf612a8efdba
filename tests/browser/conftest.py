"""A really served app on a store of its own, and a browser that notes what it asks for."""

import os
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.error import URLError
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Request, sync_playwright

from app import serving
from app.pages import VIEWS
from model.posterior.posterior import Posterior
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service import answers
from model.store.store import Store

CHROMIUM = "/usr/bin/chromium"
FLAGS = (  # no sandbox: tests may run as root; the rest keeps the browser itself off the network
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
START_WAIT_S = 60
LOCAL = "127.0.0.1"


class Visit:
    """One browser tab, with every address it asked for and every error it wrote."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        self.address = address
        self.requests: list[str] = []
        self.errors: list[str] = []
        page.on("request", self._note_request)
        page.on("console", self._note_message)
        page.on("pageerror", lambda error: self.errors.append(str(error)))

    def _note_request(self, request: Request) -> None:
        self.requests.append(request.url)

    def _note_message(self, message: ConsoleMessage) -> None:
        if message.type == "error" and not self._is_probe(message):
            self.errors.append(f"{message.text} ({message.location.get('url')})")

    def _is_probe(self, message: ConsoleMessage) -> bool:
        """Streamlit opened at /ask looks for its server below /ask first, then at the root."""
        path = urlsplit(str(message.location.get("url"))).path
        probes = [
            f"/{view.name}/_stcore/{what}" for view in VIEWS for what in ("health", "host-config")
        ]
        return "404" in message.text and path in probes

    def outside(self) -> list[str]:
        """Addresses it asked for that are not this machine's."""
        parts = [(url, urlsplit(url)) for url in self.requests]
        return [
            url
            for url, found in parts
            if found.scheme not in ("data", "blob", "about") and found.hostname != LOCAL
        ]

    def open(self, path: str, heading: str) -> None:
        """Go to a page and wait until all of it stands."""
        self.page.goto(f"{self.address}/{path}")
        self.settle(heading)

    def settle(self, heading: str) -> None:
        """Wait until the page under this heading has come to rest."""
        self.page.get_by_role("heading", name=heading, level=1, exact=True).wait_for(timeout=60_000)
        self.page.get_by_text("Cautions in full").wait_for(timeout=60_000)
        self.page.locator("[data-testid=stStatusWidget]").wait_for(state="hidden", timeout=60_000)
        self.page.wait_for_timeout(1500)  # charts are drawn after the script has ended

    def unfold(self, label: str) -> None:
        """Open what is folded under a label, and wait until it has stopped moving."""
        folded = self.page.locator("details").filter(has=self.page.get_by_text(label, exact=True))
        heights = [folded.evaluate("one => one.clientHeight")]
        folded.locator("summary").click()
        while len(set(heights[-2:])) > 1 or heights[-1] == heights[0]:
            self.page.wait_for_timeout(300)
            heights.append(folded.evaluate("one => one.clientHeight"))
            assert len(heights) < 100, "it never came to rest"

    def photograph(self, folder: Path, name: str) -> None:
        """The whole page, not only what fits the screen."""
        size = self.page.viewport_size
        height = self.page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        self.page.set_viewport_size({"width": size["width"], "height": height + 80})
        self.page.wait_for_timeout(800)
        self.page.screenshot(path=folder / f"{name}.png")
        self.page.set_viewport_size(size)

    def overflow_px(self) -> int:
        """How far the page reaches beyond the screen's right edge, pixels."""
        widest = self.page.evaluate(
            """() => Math.max(...[...document.querySelectorAll(
                '[data-testid=stMain], [data-testid=stApp], html, body')]
                .map(element => element.scrollWidth))"""
        )
        return int(widest) - int(self.page.evaluate("innerWidth"))

    def cut_off(self) -> list[str]:
        """Texts that reach beyond the right edge of the screen or of the box they stand in."""
        found: list[str] = self.page.evaluate(
            """() => [...document.querySelectorAll(
                'p, li, h1, h2, h3, td, th, label, canvas, svg, [role=combobox][value]')]
                .filter(element => {
                    const box = element.getBoundingClientRect();
                    const isSeen = box.width > 0 && box.height > 0 && box.right > 0;
                    const isIn = !element.closest('[data-testid=stDataFrame]');
                    const table = element.closest('[data-testid=stTable]');
                    const edge = table ? table.getBoundingClientRect().right : innerWidth;
                    return isSeen && isIn && (box.right > edge + 1
                        || element.scrollWidth > element.clientWidth + 2
                        && (element.tagName === 'INPUT'
                            || getComputedStyle(element).overflowX === 'hidden'));
                })
                .map(element => element.tagName + ' '
                    + (element.value || element.textContent).slice(0, 60))"""
        )
        return found


def _wait_until_healthy(process: "subprocess.Popen[bytes]", address: str, log: Path) -> None:
    deadline = time.monotonic() + START_WAIT_S
    while time.monotonic() < deadline:
        assert process.poll() is None, log.read_text()
        try:
            with urlopen(f"{address}/_stcore/health", timeout=2) as answer:  # noqa: S310 - ours
                if answer.status == 200:
                    return
        except (URLError, OSError):
            time.sleep(0.2)
    raise AssertionError(f"the app did not answer: {log.read_text()}")


class Servers:
    """Apps served in this run of the tests, each in a process of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._started: list[subprocess.Popen[bytes]] = []
        self.logs: dict[str, Path] = {}  # by address
        self.process_ids: dict[str, int] = {}
        self._told: dict[str, dict[str, str]] = {}  # what stands in an app's environment
        self.trials: str | None = None  # address of the app that most tests share

    def start(self, store: Path, **environment: str) -> str:
        """Serve a store as ``kedgewise serve`` does; `environment` is told to it, too."""
        port = _free_port()
        address = f"http://{LOCAL}:{port}"
        self.logs[address] = self._folder / f"server-{port}.log"
        self._told[address] = {"KEDGEWISE_STORE": str(store), **environment}
        self._serve(address)
        return address

    def start_again(self, address: str, *, meanwhile: Callable[[], None]) -> None:
        """Stop an app and serve it anew, with something done while none answers."""
        [process] = [one for one in self._started if one.pid == self.process_ids[address]]
        serving.stop(process)
        meanwhile()
        self._serve(address)

    def _serve(self, address: str) -> None:
        log = self.logs[address]
        with log.open("ab") as output:  # a file: a full pipe would halt the server
            process = subprocess.Popen(
                serving.command(urlsplit(address).port),
                env={**os.environ, **self._told[address]},
                cwd=self._folder,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
            )
        self._started.append(process)
        self.process_ids[address] = process.pid
        _wait_until_healthy(process, address, log)

    def stop(self) -> None:
        """End every app that was started here."""
        for process in self._started:
            serving.stop(process)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOCAL, 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def servers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Servers]:
    found = Servers(tmp_path_factory.mktemp("served"))
    yield found
    found.stop()


@pytest.fixture
def trials(
    servers: Servers,
    tmp_path_factory: pytest.TempPathFactory,
    small_campaign: Campaign,
    small_pulls: tuple[Pull, ...],
    made_up_posterior: Callable[..., Posterior],
) -> str:
    """Address of an app on a store with pulls, two made-up posteriors and standing answers."""
    if servers.trials is None:
        store = Store.create(tmp_path_factory.mktemp("store") / "trials", small_campaign)
        store.add_pulls(small_pulls, "made up")
        for count in (8, len(small_pulls)):
            posterior = made_up_posterior(small_campaign, small_pulls[:count], n_draws=800)
            store.save_posterior(posterior)
            answers.record_standing(store)
        servers.trials = servers.start(store.folder)
    return servers.trials


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield found
        found.close()


@pytest.fixture
def visit(browser: Browser) -> Iterator[Callable[..., Visit]]:
    """Open a tab of a size; its traffic is noted from the first byte."""
    opened: list[Page] = []

    def start(address: str, width: int = 1280, height: int = 800) -> Visit:
        page = browser.new_page(viewport={"width": width, "height": height})
        opened.append(page)
        return Visit(page, address)

    yield start
    for page in opened:
        page.close()


@pytest.fixture(scope="session")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where screenshots go: KEDGEWISE_PICTURES, else a temporary folder."""
    named = os.environ.get("KEDGEWISE_PICTURES")
    folder = Path(named) if named else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder
