"""Which stores there are, and one of them in the web app or fitted as it grows."""

import os
import signal
from typing import Annotated

import typer

from app.commands.options import AsJson, StoreOption
from app.serving import DEFAULT_PORT, LOCAL_ADDRESS
from app.terminal import fail, show, show_json, tell, tell_error
from model.base.errors import EXIT_OTHER, KedgewiseError


def stores(*, store: StoreOption = None, as_json: AsJson = False) -> None:
    """List the stores in the user data directory, or describe one."""
    from app.answer_json import plain
    from model.service.stores import data_folder, describe, known, resolve

    found = known() if store is None else (describe(resolve(store)),)
    if as_json:
        show_json({"folder": str(data_folder()), "stores": [plain(one) for one in found]})
    else:
        for one in found:
            show(str(one))
        if not found:
            show(f"No stores in {data_folder()} yet: `kedgewise demo` makes one.")
    unread = [one for one in found if one.trouble is not None]
    if unread:
        hints = dict.fromkeys(one.hint for one in unread)  # each once
        tell_error(f"cannot be read: {', '.join(one.name for one in unread)}", "\n".join(hints))
        raise typer.Exit(EXIT_OTHER)


def serve(
    *,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port.")] = DEFAULT_PORT,
    address: Annotated[
        str | None, typer.Option(help="With --boat: which private address, if there are several.")
    ] = None,
    boat: Annotated[
        bool, typer.Option("--boat", help="For paired phones on the boat's own network.")
    ] = False,
    worker: Annotated[
        bool, typer.Option("--worker/--no-worker", help="Fit new pulls beside the web app.")
    ] = True,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Serve the web app on this machine, and fit new pulls beside it, until Ctrl-C."""
    from app.serving import require_local
    from app.serving import serve as serve_app
    from model.service.stores import open_store

    if boat:
        _serve_on_a_boat(
            port=port, address=address, has_worker=worker, store=store, as_json=as_json
        )
        return
    require_local(address or LOCAL_ADDRESS)
    folder = open_store(store).folder
    is_said = False

    def say_ready(url: str) -> None:
        nonlocal is_said
        is_said = True
        if as_json:
            show_json({"url": url, "store": str(folder)})
        else:
            show(f"The web app is at {url} (stop with Ctrl-C)")

    _end_when_asked()
    try:
        serve_app(folder, port=port, when_ready=say_ready, has_worker=worker)
    except KeyboardInterrupt:
        tell("Stopped.")
    except KedgewiseError as error:
        # One object on standard output: the address was it.
        raise typer.Exit(fail(error, is_json=as_json and not is_said)) from error


def work(*, store: StoreOption = None, as_json: AsJson = False) -> None:
    """Fit whatever comes into a store, without the web app, until Ctrl-C."""
    from app.worker import work as keep_fitted
    from model.service.stores import open_store

    folder = open_store(store).folder
    is_said = False

    def say_ready() -> None:
        nonlocal is_said
        if is_said:  # another store took the place of the first: the work goes on
            return
        is_said = True
        if as_json:
            show_json({"store": str(folder)})
        else:
            show(f"Fitting what comes into {folder} (stop with Ctrl-C)")

    try:
        keep_fitted(str(folder), when_ready=say_ready)
    except KeyboardInterrupt:
        tell("Stopped.")
    except KedgewiseError as error:
        raise typer.Exit(fail(error, is_json=as_json and not is_said)) from error


def _end_when_asked() -> None:
    """Let both requests to end stop the app first; without this it would live on.

    What started the program may have had Ctrl-C ignored, as a script does for what it
    puts in the background, and the program says that Ctrl-C stops it.
    """
    for one in (signal.SIGINT, signal.SIGTERM):
        signal.signal(one, signal.default_int_handler)


def _serve_on_a_boat(
    *, port: int, address: str | None, has_worker: bool, store: str | None, as_json: bool
) -> None:
    """On one private address, for devices that are paired by a code from this terminal."""
    from app.doors.boat import opened_boat, require_terminal
    from app.doors.own_addresses import own_addresses
    from app.serving import serve as serve_app
    from model.service.private_addresses import choose_private
    from model.service.stores import open_store

    chosen = choose_private(own_addresses(), address)
    require_terminal(as_json=as_json)
    folder = open_store(store).folder
    _end_when_asked()
    with opened_boat() as boat:
        try:
            serve_app(
                folder,
                port=port,
                address=chosen,
                when_ready=boat.attend,
                environment={**os.environ, **boat.environment},
                has_worker=has_worker,
            )
        except KeyboardInterrupt:
            tell("Stopped. No device is paired any more.")
