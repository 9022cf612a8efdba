"""The way from pulls to facts that a user's log takes: a file, its reader, a store."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from model.ingest.log_file import read_log
from model.ingest.log_writer import write_log
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.store.facts import Written
from model.store.store import Store

LOG: Final = "pulls.csv"


def as_imported(
    campaign: Campaign, pulls: Sequence[Pull], folder: Path
) -> tuple[Campaign, tuple[Pull, ...]]:
    """Write pulls down, import the log into a new store, and read that.

    Parameters
    ----------
    folder : Path
        Empty; the log and the store stay there.

    Returns
    -------
    Campaign, tuple of Pull
        As a fit gets them.

    Raises
    ------
    FaultyFile
        If the importer does not take what was written.
    """
    store = Store.create(folder / "store", campaign)
    write_log(pulls, campaign, folder / LOG)
    reading = read_log(folder / LOG, store.campaign())
    written = Written(
        lines=reading.lines, load_unit=reading.load_unit, length_unit=reading.length_unit
    )
    store.add_pulls(reading.pulls, LOG, written=written)
    facts = store.facts()
    return facts.campaign, facts.pulls
