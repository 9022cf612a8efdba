"""The pages of the web app, in the order of the menu: a view is a file and a line here."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

MAIN: Final = Path(__file__).parent / "main.py"
"""What Streamlit runs for every page."""

ICON: Final = Path(__file__).parent / "style" / "kedge.png"
"""A file of ours: an icon by name would make the browser ask a font host for it."""

PAGE_WIDTH: Final = 1120
"""Pixels; wider than this a line of text is hard to follow. A phone takes what it has."""

MOST_UPLOAD_MB: Final = 20
"""Most that a file sent by a browser may hold, MB: a year of pulls is well below 1."""

VIEWS_FOLDER: Final = Path(__file__).parent / "views"


@dataclass(frozen=True, kw_only=True)
class View:
    """One page: its file in app/views without the ending, which is its address too."""

    name: str
    title: str

    @property
    def path(self) -> Path:
        """The file Streamlit runs for this page."""
        return VIEWS_FOLDER / f"{self.name}.py"


VIEWS: Final = (
    View(name="questions", title="Questions"),
    View(name="ask", title="Ask"),
    View(name="how_it_sets", title="How it sets"),
    View(name="next_pull", title="Next pull"),
    View(name="pulls", title="Pulls"),
    View(name="trust", title="Trust"),
)
"""The first one is what opens."""

DEVICE_VIEWS: Final = (View(name="log_pull", title="Log a pull"), *VIEWS)
"""On a paired device: the same, read, and first what it is there for."""
