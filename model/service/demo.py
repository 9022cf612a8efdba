"""The demo: an invented campaign with its pulls, fitted and answered."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import model
from model.base.errors import InputError
from model.base.progress import Progress
from model.ingest.campaign_file import read_campaign
from model.ingest.log_file import read_log
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service import stores
from model.service.answers import StandingAnswer, standing
from model.service.fits import Fitted, Fitter, fit
from model.store.store import Store, needs_making

DEMO_NAME: Final = "demo"
DEMO_LOOKS: Final = 2
"""A finding needs two looks running, so the demo fits before its last outing and after it."""

CAMPAIGN_FILE: Final = "campaign.toml"
LOG_FILE: Final = "pulls.csv"


@dataclass(frozen=True, kw_only=True)
class Demo:
    """The demo's store, its newest fit and its standing answers."""

    folder: Path
    campaign: Campaign
    fitted: Fitted
    answers: tuple[StandingAnswer, ...]


def demo_data() -> Path:
    """Folder of the demo's campaign and log, beside the packages.

    Raises
    ------
    InputError
        If the program runs without its data folder.
    """
    folder = Path(model.__file__).parents[1] / "data" / "hollow_sound"
    if not folder.is_dir():
        raise InputError(
            f"the demo's data are not in {folder}",
            hint="Run the demo from a clone of the project.",
        )
    return folder


def demo(
    *,
    store: str | None = None,
    looks: int = DEMO_LOOKS,
    data: Path | None = None,
    fitter: Fitter | None = None,
    progress: Progress | None = None,
) -> Demo:
    """Make the demo's store where it is absent, fit it, and answer its questions.

    Parameters
    ----------
    store : str or None
        As for :func:`model.service.stores.resolve`; else the store named demo.
    looks : int
        How many fits to make, each with one more outing, at least 1.
    data : Path or None
        Folder with the campaign and the log; the project's own unless given.

    Raises
    ------
    InputError
        If the store holds another campaign, or a demo that was changed since.
    """
    folder = data or demo_data()
    campaign = read_campaign(folder / CAMPAIGN_FILE)
    opened = _demo_store(campaign, store)
    pulls = read_log(folder / LOG_FILE, campaign).pulls
    fitted = None
    by_look = _looks_to_make(opened, campaign, pulls, looks)
    for look, chosen in enumerate(by_look, start=1):
        opened.add_pulls(chosen, LOG_FILE)
        fitted = fit(opened, fitter=fitter, progress=_share(progress, look - 1, len(by_look)))
    if fitted is None:
        raise InputError("the demo needs at least one look", hint="Give looks=1 or more.")
    return Demo(folder=opened.folder, campaign=campaign, fitted=fitted, answers=standing(opened))


def _demo_store(campaign: Campaign, store: str | None) -> Store:
    folder = stores.named_store(store) or stores.named_folder(DEMO_NAME)
    if needs_making(folder):
        return Store.create(folder, campaign)
    opened = Store.open(folder)
    stored = opened.campaign()
    if stored != campaign:
        what = "a changed demo" if stored.name == campaign.name else "another campaign"
        raise InputError(
            f"the store in {folder} holds {what}, {stored.name!r}",
            hint="Nothing in it was touched. Name another store: `kedgewise demo --store NAME`.",
        )
    return opened


def _looks_to_make(
    opened: Store, campaign: Campaign, pulls: Sequence[Pull], looks: int
) -> list[tuple[Pull, ...]]:
    """Every look, or only the last one where the store holds all pulls already."""
    by_look = _pulls_by_look(campaign, pulls, looks)
    known = {pull.id for pull in opened.pulls()}
    has_all = known >= {pull.id for pull in pulls}
    return by_look[-1:] if has_all else by_look


def _pulls_by_look(campaign: Campaign, pulls: Sequence[Pull], looks: int) -> list[tuple[Pull, ...]]:
    """Pulls known at each look: the last look knows all, each one before an outing less."""
    outings = [outing.name for outing in campaign.outings]
    known = [set(outings[: max(len(outings) - back, 1)]) for back in range(looks)]
    return [
        tuple(pull for pull in pulls if pull.outing in outings_known)
        for outings_known in reversed(known)
    ]


def _share(progress: Progress | None, look: int, looks: int) -> Progress | None:
    """Progress of one look as its share of the whole."""
    if progress is None:
        return None
    report = progress
    return lambda fraction, text: report(
        (look + fraction) / looks, f"look {look + 1} of {looks}: {text}"
    )
