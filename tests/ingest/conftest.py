"""An invented campaign and short ways to make a log and read its faults."""

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest

from model.base.errors import Fault, FaultyFile
from model.ingest.campaign_file import read_campaign
from model.ingest.log_file import LogReading, read_log_text
from model.records.campaign import Campaign

DATA = Path(__file__).parent / "data"
PLAIN = {"pull": "1", "outing": "day 1", "anchor": "S6", "seabed": "firm sand"}

Rows = Callable[..., str]
Reads = Callable[..., LogReading]
Faults = Callable[..., tuple[Fault, ...]]


@pytest.fixture(scope="session")
def data() -> Path:
    return DATA


@pytest.fixture(scope="session")
def hollow_sound() -> Campaign:
    """The campaign of ``data/campaign.toml``: three outings, one an old sheet."""
    return read_campaign(DATA / "campaign.toml")


@pytest.fixture
def rows() -> Rows:
    """Text of a log of released bites at 2.6 kN, each row with what is given."""

    def make(*changes: dict[str, str], delimiter: str = ",") -> str:
        filled = [PLAIN | {"ending": "released", "load_kn": "2.6"} | change for change in changes]
        # None takes a column away from every row.
        dropped = {heading for row in filled for heading, cell in row.items() if cell is None}
        headings = list(dict.fromkeys(heading for row in filled for heading in row))
        kept = [heading for heading in headings if heading not in dropped]
        file = io.StringIO(newline="")
        writer = csv.writer(file, delimiter=delimiter, lineterminator="\n")
        writer.writerow(kept)
        writer.writerows([row.get(heading, "") for heading in kept] for row in filled)
        return file.getvalue()

    return make


@pytest.fixture
def reads(hollow_sound: Campaign) -> Reads:
    def read(text: str, campaign: Campaign | None = None) -> LogReading:
        return read_log_text(text, "log.csv", campaign or hollow_sound)

    return read


@pytest.fixture
def faults(reads: Reads) -> Faults:
    """Faults of a text; fails if it has none."""

    def read(text: str, campaign: Campaign | None = None) -> tuple[Fault, ...]:
        with pytest.raises(FaultyFile) as caught:
            reads(text, campaign)
        return caught.value.faults

    return read
