"""Make the pictures beside this script: the view Ask on the invented demo, wide and on a phone.

    uv run --group browser python data/pictures/make.py [--store FOLDER] [--into FOLDER]

Without a store it makes the demo's anew in a temporary folder, a few minutes' work. Needs
Chromium at /usr/bin/chromium, or where KEDGEWISE_CHROMIUM points.
"""

import argparse
import logging
import os
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final
from urllib.error import URLError
from urllib.parse import urlencode
from urllib.request import urlopen

from PIL import Image
from playwright.sync_api import Browser, FloatRect, Page, sync_playwright

from app import serving
from model.service.demo import demo

HERE: Final = Path(__file__).parent
CAMPAIGN: Final = "Hollow Sound trials"
QUESTION: Final = "tip ballast on S6"
CHROMIUM: Final = os.environ.get("KEDGEWISE_CHROMIUM", "/usr/bin/chromium")
FLAGS: Final = (  # no sandbox: may run as root; the rest keeps the browser off the network
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WAIT_MS: Final = 60_000
DRAWN_MS: Final = 2000
"""Charts are drawn after the page's script has ended, and nothing says when, ms."""
COLORS: Final = 256
"""Colours kept: flat pictures need no more, and are a third of the size."""
MAX_BYTES: Final = 300_000
MARGIN_PX: Final = 12

log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One picture: the screen it is taken on, and what of the page it shows.

    Parameters
    ----------
    last : str
        Heading of the last card in the picture.
    """

    name: str
    width: int
    scale: float
    last: str


SHOTS: Final = (
    Shot(name="ask.png", width=1280, scale=1.5, last="Every pull"),
    Shot(name="ask_phone.png", width=390, scale=2.0, last="How large the difference may be"),
)
CARD_END: Final = """element => {
    let box = element;
    while (box && getComputedStyle(box).borderTopWidth === '0px') box = box.parentElement;
    return (box || element).getBoundingClientRect().bottom;
}"""
"""Bottom of the card that an element stands in, pixels."""


def main() -> None:
    """Write both pictures and say how large they are."""
    parser = argparse.ArgumentParser(description="Make the pictures of the documents.")
    parser.add_argument("--store", type=Path, help="a folder with a fitted demo store")
    parser.add_argument("--into", type=Path, default=HERE)
    arguments = parser.parse_args()
    logging.basicConfig(level=logging.INFO, format="%(message)s")
    with tempfile.TemporaryDirectory() as folder:
        store = arguments.store or Path(folder) / "demo"
        demo(store=str(store))
        with served(store, Path(folder)) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
            for shot in SHOTS:
                take(browser, address, shot, arguments.into / shot.name)
            browser.close()


@contextmanager
def served(store: Path, folder: Path) -> Iterator[str]:
    """Serve a store as ``kedgewise serve`` does, as long as the block runs."""
    with socket.socket() as probe:
        probe.bind((serving.LOCAL_ADDRESS, 0))
        port = int(probe.getsockname()[1])
    with (folder / "server.log").open("wb") as output:
        process = subprocess.Popen(
            serving.command(port),
            env={**os.environ, serving.STORE_VARIABLE: str(store.absolute())},
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    try:
        _wait_until_ready(serving.url_of(port))
        yield serving.url_of(port)
    finally:
        serving.stop(process)


def _wait_until_ready(address: str) -> None:
    deadline = time.monotonic() + serving.START_WAIT_S
    while time.monotonic() < deadline:
        try:
            with urlopen(f"{address}/_stcore/health", timeout=2):
                return
        except (URLError, OSError):
            time.sleep(0.2)
    raise TimeoutError("the web app did not answer")


def take(browser: Browser, address: str, shot: Shot, path: Path) -> None:
    """Open the question on a screen of this width, and photograph down to the last card."""
    page = browser.new_page(
        viewport={"width": shot.width, "height": 900}, device_scale_factor=shot.scale
    )
    page.goto(f"{address}/ask?{urlencode({'question': QUESTION})}")
    page.get_by_text("Cautions in full").wait_for(timeout=WAIT_MS)
    whole = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    page.set_viewport_size({"width": shot.width, "height": int(whole) + 100})
    page.wait_for_timeout(DRAWN_MS)
    picture = _photograph(page, *_ends(page, shot))
    page.close()
    picture.quantize(COLORS, method=Image.Quantize.MAXCOVERAGE).save(path, optimize=True)
    size = path.stat().st_size
    if size > MAX_BYTES:
        raise ValueError(f"{path} has {size} bytes; at most {MAX_BYTES} are wanted")
    log.info("%s, %d kB", path, size // 1000)


def _ends(page: Page, shot: Shot) -> tuple[float, float]:
    """Top and bottom of what is shown, from the campaign's name above the title, pixels."""
    name = page.get_by_text(CAMPAIGN, exact=True).first.bounding_box()
    if name is None:
        raise ValueError("the page does not say whose pulls it shows")
    last = page.get_by_role("heading", name=shot.last, exact=True)
    return name["y"] - MARGIN_PX, float(last.evaluate(CARD_END)) + MARGIN_PX


def _photograph(page: Page, top: float, bottom: float) -> Image.Image:
    width = page.evaluate("innerWidth")
    clip: FloatRect = {"x": 0, "y": top, "width": width, "height": bottom - top}
    return Image.open(BytesIO(page.screenshot(clip=clip))).convert("RGB")


if __name__ == "__main__":
    main()
