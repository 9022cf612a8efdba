"""Which store is meant, and which are known."""

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from platformdirs import user_data_path

from model.base.errors import InputError, KedgewiseError, NoStore
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.service.worker_state import WorkerState, worker_state
from model.store.database import DATABASE_NAME
from model.store.entries import StoredPosterior
from model.store.store import Store, holds_store

STORE_VARIABLE: Final = "KEDGEWISE_STORE"
"""Environment variable that names the store where no --store does."""

NAME_RULE: Final = "a letter or digit, then up to 63 letters, digits, - or _"
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)
"""Names that some systems keep for devices; a folder of that name cannot be opened there."""

_SQLITE: Final = "sqlite:///"
_PLAIN: Final = re.compile(r"[A-Za-z0-9_./:~-]+")
"""What no shell takes apart."""


@dataclass(frozen=True, kw_only=True)
class KnownStore:
    """A store in the user data directory; `trouble` says why it cannot be opened.

    `hint` says what to do then. `pulls` counts all of them, `void_pulls` those among them that
    are not used; `worker` is what its fitting worker does, None where none runs.
    """

    name: str
    folder: Path
    campaign: str | None = None
    pulls: int = 0
    void_pulls: int = 0
    posterior: StoredPosterior | None = None
    worker: WorkerState | None = None
    trouble: str | None = None
    hint: str = ""

    def __str__(self) -> str:
        if self.trouble is not None:
            return f"{self.name}: {self.trouble}"
        behind = "not fitted" if self.posterior is None else f"{self.posterior.pulls} in the fit"
        pulls = counted_pulls(self.pulls - self.void_pulls, self.void_pulls)
        worker = "no worker" if self.worker is None else f"worker {self.worker.words}"
        return f"{self.name}: {self.campaign}, {pulls}, {behind}, {worker}, {self.folder}"


@dataclass(frozen=True, kw_only=True)
class StoreState:
    """What a store holds, and what its answers rest on; nothing heavy is read for it.

    Parameters
    ----------
    has_changed : bool
        Whether the campaign, or a pull, is not what the newest posterior was fitted to, though
        there are as many pulls.
    has_worker : bool
        Whether a fitting worker runs: then nobody needs to ask for a fit.
    """

    folder: Path
    campaign: Campaign
    pulls: int
    used_pulls: int
    void_pulls: int
    posterior: StoredPosterior | None
    failed_reasons: tuple[str, ...]
    has_changed: bool = False
    has_worker: bool = False

    @property
    def pulls_behind_answers(self) -> int:
        """Used pulls of the newest posterior that passed; 0 before the first."""
        return 0 if self.posterior is None else self.posterior.pulls


def counted_pulls(used: int, void: int = 0) -> str:
    """How many pulls there are, as ``21 pulls and 1 void``."""
    pulls = f"{used} pull" if used == 1 else f"{used} pulls"
    return f"{pulls} and {void} void" if void else pulls


def data_folder() -> Path:
    """Folder of the stores that have a name: in the user data directory."""
    return user_data_path("kedgewise", appauthor=False) / "stores"


def named_folder(name: str) -> Path:
    """Folder of a store by its name.

    Raises
    ------
    InputError
        If the name cannot be a folder everywhere.
    """
    if not _NAME.fullmatch(name) or _DEVICE.fullmatch(name):
        raise InputError(
            f"{name!r} is no name for a store",
            hint=f"A name is {NAME_RULE}. A folder is written with a slash, as ./trials.",
        )
    return data_folder() / name


def folder_of(text: str) -> Path:
    """Folder that a name, a path or a URL of a store means.

    Parameters
    ----------
    text : str
        A name; or a path, which holds a slash or begins with ``.`` or ``~``;
        or ``sqlite:///PATH``.

    Raises
    ------
    InputError
        If it is none of these, or a URL of another kind of database.
    """
    if "://" in text and not text.startswith(_SQLITE):
        kind = text.split("://", 1)[0]
        raise InputError(
            f"stores in {kind!r} databases are not there yet",
            hint="Give a name, a folder, or sqlite:///FOLDER.",
        )
    is_url = text.startswith(_SQLITE)
    path_text = text.removeprefix(_SQLITE)
    if not path_text.strip():
        raise InputError("the store's name is empty", hint="Give a name or a folder.")
    if is_url or path_text[0] in ".~" or re.search(r"[/\\]", path_text):
        try:
            path = Path(path_text).expanduser()
        except RuntimeError as error:
            raise InputError(
                f"{text!r} names a home folder that is not known", hint="Write the path in full."
            ) from error
        return (path.parent if path.name == DATABASE_NAME else path).absolute()
    return named_folder(path_text)


def resolve(store: str | None, *, environment: Mapping[str, str] = os.environ) -> Path:
    """Folder of the store that is meant.

    ``--store``, else ``KEDGEWISE_STORE``, else the only store in the user data
    directory.

    Raises
    ------
    InputError
        If nothing names a store and there is none, or more than one.
    """
    named = named_store(store, environment=environment)
    if named is not None:
        return named
    folders = _known_folders()
    if len(folders) == 1:
        return folders[0]
    if not folders:
        raise InputError(
            "there is no store yet",
            hint="Make one with `kedgewise demo` or `kedgewise new CAMPAIGN.toml`.",
        )
    names = ", ".join(folder.name for folder in folders)
    raise InputError(f"there are several stores: {names}", hint="Name one with --store.")


def named_store(store: str | None, *, environment: Mapping[str, str] = os.environ) -> Path | None:
    """Folder that ``--store`` or ``KEDGEWISE_STORE`` names; None where neither does."""
    text = store if store is not None else environment.get(STORE_VARIABLE) or None
    return None if text is None else folder_of(text)


def name_of(folder: Path) -> str:
    """What ``--store`` takes for a folder: its name where it has one, else its path."""
    return folder.name if folder.parent == data_folder() else str(folder)


def store_option(
    store: str | None, folder: Path, *, environment: Mapping[str, str] = os.environ
) -> str:
    """What the next command must say to mean this store, with a space before it; may be empty.

    Parameters
    ----------
    store : str or None
        What ``--store`` was given as; None where it was not.
    folder : Path
        The store's folder.
    """
    if store is None:
        try:
            is_found = resolve(None, environment=environment) == folder
        except InputError:
            is_found = False
        if is_found:
            return ""
        store = name_of(folder)
    is_plain = _PLAIN.fullmatch(store) is not None
    return f" --store {store}" if is_plain else f' --store "{store}"'


def open_store(store: str | None = None) -> Store:
    """Open the store that is meant; see :func:`resolve` and :meth:`Store.open`.

    Raises
    ------
    NoStore
        If there is none; a folder here that is called like a name and holds one is told.
    """
    folder = resolve(store)
    try:
        return Store.open(folder)
    except NoStore as error:
        here = Path(folder.name)
        if folder.parent == data_folder() and holds_store(here):
            error.hint = f"Did you mean --store ./{here}? {error.hint}"
        raise


def _known_folders() -> list[Path]:
    folder = data_folder()
    if not folder.is_dir():
        return []
    return sorted(
        path for path in folder.iterdir() if _NAME.fullmatch(path.name) and holds_store(path)
    )


def known() -> tuple[KnownStore, ...]:
    """Every store in the user data directory, by name; a damaged one is listed with its trouble."""
    return tuple(describe(folder) for folder in _known_folders())


def describe(folder: Path) -> KnownStore:
    """What a store holds; one that cannot be opened is described by its trouble.

    Raises
    ------
    NoStore
        If there is none in the folder.
    """
    try:
        store = Store.open(folder)
        pulls = store.pulls()
        return KnownStore(
            name=folder.name,
            folder=folder,
            campaign=store.campaign().name,
            pulls=len(pulls),
            void_pulls=sum(pull.is_void for pull in pulls),
            posterior=store.newest_stored(),
            worker=worker_state(folder),
        )
    except NoStore:
        raise
    except KedgewiseError as error:
        return KnownStore(name=folder.name, folder=folder, trouble=error.message, hint=error.hint)


def state_of(store: Store) -> StoreState:
    """What a store holds, and what its answers rest on."""
    campaign, pulls, posterior = store.campaign(), store.pulls(), store.newest_stored()
    void = sum(pull.is_void for pull in pulls)
    attempt = store.newest_attempt()
    failed = attempt is not None and attempt.state == "failed"
    return StoreState(
        folder=store.folder,
        campaign=campaign,
        pulls=len(pulls),
        used_pulls=len(pulls) - void,
        void_pulls=void,
        posterior=posterior,
        failed_reasons=attempt.reasons if attempt is not None and failed else (),
        has_changed=(
            posterior is not None
            and posterior.pulls == len(pulls) - void
            and posterior.pulls_fingerprint != _facts_fingerprint(campaign, pulls)
        ),
        has_worker=worker_state(store.folder) is not None,
    )


def _facts_fingerprint(campaign: Campaign, pulls: Sequence[Pull]) -> str:
    """Hash of all that a fit would use."""
    from model.inference.identity import facts_fingerprint  # brings the array library

    return facts_fingerprint(campaign, pulls)
