"""The command line: each command reads its options, calls the service, and shows the outcome.

Everything heavy is imported where it is used, so that ``kedgewise --help``
answers at once.
"""

import contextlib
import os
import signal
import sys
import traceback
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Final

import typer
from typer.exceptions import TyperException

from app.serving import DEFAULT_PORT, LOCAL_ADDRESS
from app.terminal import (
    OutputFailed,
    error_json,
    let_every_sign_through,
    progress,
    show,
    show_json,
    tell,
    tell_error,
    tell_notes,
    with_store,
)
from model.base.errors import EXIT_OTHER, InputError, KedgewiseError

app = typer.Typer(
    name="kedgewise",
    help="From a log of small-boat anchor pulls to answers that say how sure they are.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

DEBUG_VARIABLE: Final = "KEDGEWISE_DEBUG"
"""Set to 1, an error nobody foresaw is shown with where it came from."""

JSON_OPTION: Final = "--json"
MEASURES: Final = (
    "typical, best, capped, nine_in_ten, hold, upright, sets, resets, turns, buried or next."
)
"""Written out, as the records that list them take a while to load; a test compares the two."""

AsJson = Annotated[bool, typer.Option(JSON_OPTION, help="Print one JSON object, nothing else.")]
StoreOption = Annotated[
    str | None,
    typer.Option("--store", metavar="NAME|PATH|URL", help="The store; else KEDGEWISE_STORE."),
]


@app.command(epilog="Example: kedgewise demo --store ./hollow-sound")
def demo(*, store: StoreOption = None, as_json: AsJson = False) -> None:
    """Make, fit and answer the demo: invented pulls from an invented bay."""
    from app.answer_json import plain, standing_json
    from app.answer_text import standing_view
    from model.service.demo import demo as make_demo
    from model.service.stores import name_of, store_option

    with progress("Fitting the demo twice: about a minute the first time.") as report:
        made = make_demo(store=store, progress=report)
    if as_json:
        head = {"store": str(made.folder), "posterior": plain(made.fitted.stored.summary)}
        show_json({**head, **standing_json(made.answers)})
        return
    show(standing_view(made.answers, made.campaign))
    show(f"The store is in {made.folder}")
    named = store_option(store or name_of(made.folder), made.folder)
    show(f"Open the web app: kedgewise serve{named}")


@app.command(epilog="Example: kedgewise new campaign.toml --store trials")
def new(
    campaign: Annotated[Path, typer.Argument(metavar="CAMPAIGN.toml", help="The campaign file.")],
    *,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Make a store from a campaign file, or bring its store up to the changed file."""
    from model.service.campaigns import make
    from model.service.stores import store_option

    made = make(campaign, store=store)
    tell_notes(made.notes)
    changes = [str(change) for change in made.changes]
    if as_json:
        head = {"store": str(made.folder), "campaign": made.campaign.name, "is_new": made.is_new}
        show_json({**head, "changes": changes, "notes": list(made.notes)})
    elif made.is_new:
        show(f"A new store for {made.campaign.name} is in {made.folder}")
        show(f"Next: kedgewise import FILE{store_option(store, made.folder)}")
    else:
        words = "Changed" if changes else "Nothing has changed"
        show("\n  ".join([f"{words} in {made.folder}", *changes]))


@app.command(name="import", epilog="Example: kedgewise import pulls.csv more-pulls.csv")
def import_logs(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Pull logs (.csv).")],
    *,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Import pull logs: all or nothing of each file, known pulls skipped."""
    from model.service.imports import import_log, standing_of
    from model.service.stores import open_store, state_of, store_option

    opened = open_store(store)
    done: list[dict[str, object]] = []
    for file in files:
        try:
            found = import_log(opened, file)
        except KedgewiseError as error:
            # Files before it are stored: whoever reads only the object must know.
            before = {"files": done} if done else {}
            raise typer.Exit(_fail(error, is_json=as_json, before=before)) from error
        tell_notes(found.notes)
        tell(f"{found.source}: {found.added} pulls added, {found.skipped} skipped as known.")
        done.append({"file": found.source, "added": found.added, "skipped": found.skipped})
    state = state_of(opened)
    if as_json:
        pulls = {"used": state.used_pulls, "void": state.void_pulls}
        behind = {"pulls_behind_answers": state.pulls_behind_answers}
        show_json({"files": done, "pulls": pulls, **behind, "sentence": standing_of(state)})
    else:
        show(with_store(standing_of(state), store_option(store, opened.folder)))


@app.command(epilog="Example: kedgewise fit --store trials")
def fit(*, store: StoreOption = None, as_json: AsJson = False) -> None:
    """Fit all pulls, and keep how every standing question stands."""
    from app.answer_json import plain
    from model.service.fits import fit as fit_store
    from model.service.stores import open_store, state_of, store_option

    opened = open_store(store)
    pulls = state_of(opened).used_pulls
    with progress(f"Fitting {pulls} pulls: about a minute the first time.") as report:
        fitted = fit_store(opened, progress=report)
    if as_json:
        posterior = opened.newest_posterior()
        check = None if posterior is None else posterior.fit_check.model_dump(mode="json")
        head = {"store": str(opened.folder), "state": fitted.state}
        show_json({**head, "posterior": plain(fitted.stored.summary), "fit_check": check})
        return
    done = "Nothing has changed since the fit" if fitted.state == "unchanged" else "Fitted"
    named = store_option(store, opened.folder)
    show(f"{done}: {fitted.stored.pulls} pulls, fit check passed. Next: kedgewise ask{named}")


@app.command(epilog='Examples: kedgewise ask leader; kedgewise ask --a "anchor=S6" --b "anchor=P9"')
def ask(  # noqa: PLR0913 - each is an option of its own
    question: Annotated[
        str | None, typer.Argument(help="A standing question's name, or a treatment in general.")
    ] = None,
    *,
    a: Annotated[str | None, typer.Option("--a", help='Set-up A: "anchor=S6, scope=5".')] = None,
    b: Annotated[str | None, typer.Option("--b", help="Set-up B.")] = None,
    seabed: Annotated[list[str] | None, typer.Option(help="A seabed; may be repeated.")] = None,
    measure: Annotated[str | None, typer.Option(help=MEASURES)] = None,
    hold: Annotated[float | None, typer.Option(help="Load to hold, campaign's unit.")] = None,
    band: Annotated[
        str | None, typer.Option(help="As 1.15 or 0.87..1.15 for loads, ±0.10 for chances.")
    ] = None,
    next_anchor: Annotated[
        bool, typer.Option("--next-anchor", help="About the next anchor like these.")
    ] = False,
    details: Annotated[
        bool, typer.Option("--details", help="Every measure; with --json all that is behind.")
    ] = False,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Ask one question, or see how all the standing ones stand."""
    from app.asking import show_answers, show_standing
    from model.service.questions import Terms, compare, find, vary
    from model.service.stores import open_store, store_option

    options = {"--seabed": seabed, "--measure": measure, "--hold": hold, "--band": band}
    given = [name for name, value in options.items() if value is not None]
    given += ["--next-anchor"] if next_anchor else []
    _require_one_way(question, a, b, given)
    opened = open_store(store)
    campaign, named = opened.campaign(), store_option(store, opened.folder)
    terms = Terms(
        seabeds=seabed or (), measure=measure, hold=hold, band=band, is_next_anchor=next_anchor
    )
    if question is not None:
        asked = tuple(vary(campaign, one, **terms) for one in find(campaign, question))
    elif a is not None and b is not None:
        asked = (compare(campaign, a, b, **terms),)
    else:
        show_standing(opened, as_json=as_json, has_details=details, store_option=named)
        return
    show_answers(opened, asked, as_json=as_json, has_details=details, store_option=named)


def _require_one_way(
    question: str | None, a: str | None, b: str | None, given: Sequence[str]
) -> None:
    if (a is None) != (b is None) or (question is not None and a is not None):
        raise InputError(
            "a comparison needs both --a and --b, and no question's name",
            hint='As: kedgewise ask --a "anchor=S6, leader=wire 2 m" --b "anchor=S6".',
        )
    if a is None and question is None and given:
        belong = "belongs" if len(given) == 1 else "belong"
        raise InputError(
            f"{', '.join(given)} {belong} to one question",
            hint="Name it, or give --a and --b; all the standing ones are shown as they stand.",
        )


@app.command(epilog='Example: kedgewise modes --anchor S6 --seabed "firm sand"')
def modes(
    *,
    anchor: Annotated[str | None, typer.Option(help="Only this anchor.")] = None,
    seabed: Annotated[str | None, typer.Option(help="Only this seabed.")] = None,
    untried: Annotated[
        bool, typer.Option("--untried", help="Predict also set-ups that were never pulled.")
    ] = False,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """How every set-up sets, and each pull's own chance of having been upright."""
    from app.asking import show_modes
    from model.service.modes import modes as find_modes
    from model.service.stores import open_store, store_option

    opened = open_store(store)
    found = find_modes(opened, anchor=anchor, seabed=seabed, has_untried=untried)
    show_modes(opened, found, as_json=as_json, store_option=store_option(store, opened.folder))


@app.command(epilog="Example: kedgewise stores")
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
    unread = [one.name for one in found if one.trouble is not None]
    if unread:
        tell_error(
            f"cannot be read: {', '.join(unread)}",
            "Put back a safe copy of the store's folder, or make it anew and import the logs.",
        )
        raise typer.Exit(EXIT_OTHER)


@app.command(epilog="Example: kedgewise serve --store demo --port 8502")
def serve(
    *,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port.")] = DEFAULT_PORT,
    address: Annotated[str, typer.Option(help="This machine's own only.")] = LOCAL_ADDRESS,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Serve the web app on this machine until Ctrl-C."""
    from app.serving import require_local
    from app.serving import serve as serve_app
    from model.service.stores import open_store

    require_local(address)
    folder = open_store(store).folder
    is_said = False

    def say_ready(url: str) -> None:
        nonlocal is_said
        is_said = True
        if as_json:
            show_json({"url": url, "store": str(folder)})
        else:
            show(f"The web app is at {url} (stop with Ctrl-C)")

    # Asked to end, the command stops the app first; without this the app would live on.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        serve_app(folder, port=port, when_ready=say_ready)
    except KeyboardInterrupt:
        tell("Stopped.")
    except KedgewiseError as error:
        # One object on standard output: the address was it.
        raise typer.Exit(_fail(error, is_json=as_json and not is_said)) from error


def run(arguments: Sequence[str]) -> int:
    """Run one command line; what went wrong is said once, in the form that was asked for.

    Returns
    -------
    int
        0; 2 bad input, 3 a fit that failed its check, 1 anything else.
    """
    is_json = JSON_OPTION in arguments
    try:
        code = app(args=list(arguments), prog_name="kedgewise", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except KedgewiseError as error:
        return _fail(error, is_json=is_json)
    except TyperException as error:
        if not error.format_message():  # no command: the help, printed already, is all there is
            return error.exit_code
        found = InputError(error.format_message(), hint="See `kedgewise --help`.")
        found.exit_code = error.exit_code
        return _fail(found, is_json=is_json)
    except Exception as error:  # noqa: BLE001 - the last line of defence, and it says so
        if os.environ.get(DEBUG_VARIABLE) == "1":
            traceback.print_exc()
        hint = f"This is a fault of the program. With {DEBUG_VARIABLE}=1 it says where."
        return _fail(KedgewiseError(f"{type(error).__name__}: {error}", hint=hint), is_json=is_json)


def _fail(
    error: KedgewiseError, *, is_json: bool, before: Mapping[str, object] = MappingProxyType({})
) -> int:
    """Say what went wrong; `before` is what was done all the same, for the object."""
    if is_json and not isinstance(error, OutputFailed):
        with contextlib.suppress(OutputFailed):
            show_json({**error_json(error), **before})
    tell_error(error.message, error.hint)
    return error.exit_code


def main() -> None:
    """Entry point of the command ``kedgewise``."""
    let_every_sign_through()
    sys.exit(run(sys.argv[1:]))
