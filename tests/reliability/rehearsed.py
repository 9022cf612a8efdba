"""Imported once, by the process from which all lives are forked: one step of everything.

What the program imports only when it is first used would else be most of a short life.
"""

import tempfile
from pathlib import Path

import deck

from model.ingest.campaign_file import read_campaign
from model.store.store import Store

with tempfile.TemporaryDirectory() as place:
    folder = Path(place) / "store"
    Store.create(folder, read_campaign(Path(__file__).parent / "trials.toml"))
    deck.log_pulls(folder, Path(place) / "ledger.jsonl", 1)
