"""Safe copies of a store, and stores from them."""

from pathlib import Path
from typing import Annotated

import typer

from app.commands.options import AsJson, StoreOption
from app.terminal import show, show_json, tell
from model.base.errors import InputError


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where the copy goes.")],
    *,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Write a safe copy of a store, with the posteriors it names, into one file."""
    from model.service.copies import backup as save
    from model.service.stores import open_store

    opened = open_store(store)
    saved = save(opened, file)
    for name in saved.left_out:
        tell(f"The posterior {name} is damaged and not in the copy: `kedgewise fit` makes it anew.")
    if as_json:
        left_out = list(saved.left_out)
        head = {"store": str(opened.folder), "file": str(saved.path)}
        show_json({**head, "posteriors": saved.posteriors, "left_out": left_out})
        return
    show(f"{opened.folder} is copied to {saved.path}. Keep it on another disk.")


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A copy that `backup` made.")],
    *,
    replace: Annotated[
        bool, typer.Option("--replace", help="Also in the place of a sound store, which is kept.")
    ] = False,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Make a store from a safe copy; what is in its place is kept in its folder `copies`."""
    from model.service.copies import restore as unpack
    from model.service.stores import counted_pulls, named_store

    folder = named_store(store)
    if folder is None:
        raise InputError("no store is named to restore to", hint="Name it with --store.")
    done = unpack(file, folder, may_replace=replace)
    if as_json:
        before = None if done.before is None else str(done.before)
        head = {"store": str(done.folder), "campaign": done.campaign}
        show_json({**head, "pulls": done.pulls, "before": before})
        return
    show(f"{done.campaign} with {counted_pulls(done.pulls)} is in {done.folder}")
    if done.before is not None:
        show(f"What was there before is in {done.before}")
