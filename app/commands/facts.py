"""A campaign and its pull logs into a store."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from app.commands.drafting import draft
from app.commands.options import AsJson, StoreOption
from app.terminal import fail, show, show_json, tell, tell_notes, with_store
from model.base.errors import InputError, KedgewiseError

if TYPE_CHECKING:
    from model.service.moved import Moved
    from model.store.revisions import Reason
    from model.store.store import Store

ADD_TO_FILE: Final = (
    "note: write what came into the campaign into your campaign file, too: a file that lacks it "
    "would take it out again, or is refused."
)


def new(
    campaign: Annotated[
        Path | None, typer.Argument(metavar="[CAMPAIGN.toml]", help="The campaign file.")
    ] = None,
    *,
    from_log: Annotated[
        Path | None,
        typer.Option(metavar="LOG", help="Draft a campaign file from a log (.csv, .xlsx)."),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="Where the draft goes; else by LOG."),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Write over a draft that is there.")
    ] = False,
    say: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY=ANSWER", help='What the log cannot say, as "mass_kg.S6=6".'),
    ] = None,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Make a store from a campaign file, or bring it up to date; or draft one from a log."""
    if (campaign is None) == (from_log is None):
        raise InputError(
            "one thing at a time: a campaign file, or a log to draft one from",
            hint="Write `kedgewise new CAMPAIGN.toml`, or `kedgewise new --from-log LOG`.",
        )
    if from_log is not None:
        draft(from_log, output, say or [], may_replace=replace, as_json=as_json)
    elif campaign is not None:
        if output is not None or say or replace:
            found = "--output, --replace and --say are for a draft"
            raise InputError(found, hint="Give them beside --from-log LOG.")
        _make(campaign, store, as_json=as_json)


def _make(campaign: Path, store: str | None, *, as_json: bool) -> None:
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


def import_logs(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE...", help="Pull logs (.csv, .xlsx), or one data package."),
    ],
    *,
    revise: Annotated[
        str | None,
        typer.Option(metavar="WHY", help="Correct stored pulls that changed; why, for the record."),
    ] = None,
    by: Annotated[
        str | None, typer.Option(metavar="NAME", help="Who corrects; else your login name.")
    ] = None,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Import pull logs: all or nothing of each file, known pulls skipped."""
    from app.answer_json import moved_json
    from model.service.corrections import reason_for
    from model.service.imports import standing_of
    from model.service.moved import storing
    from model.service.package_reader import holds_package
    from model.service.stores import open_store, state_of, store_option

    if len(files) == 1 and holds_package(files[0]):
        if revise is not None or by is not None:
            raise InputError(
                f"{files[0].name} is a data package: --revise is for logs",
                hint="Leave it out; what both have with other content is listed.",
            )
        _take_in(files[0], store, as_json=as_json)
        return
    if revise is not None and revise.startswith("--"):
        raise InputError(f"--revise says {revise!r}", hint='Write why, as --revise "WHY".')
    opened, reason = open_store(store), reason_for(revise, by)
    done: list[dict[str, object]] = []
    failed, moves = storing(opened, lambda: _import_each(opened, files, reason, done))
    if failed is not None:
        # Files before it are stored: whoever reads only the object must know.
        before = {"files": done} if done else {}
        raise typer.Exit(fail(failed, is_json=as_json, before=before)) from failed
    state = state_of(opened)
    if as_json:
        pulls = {"used": state.used_pulls, "void": state.void_pulls}
        behind = {"pulls_behind_answers": state.pulls_behind_answers}
        said = {"sentence": standing_of(state), "moved": moved_json(moves)}
        show_json({"files": done, "pulls": pulls, **behind, **said})
    else:
        show(with_store(standing_of(state), store_option(store, opened.folder)))
        show_moved(moves)


def _import_each(
    opened: "Store", files: Sequence[Path], reason: "Reason | None", done: list[dict[str, object]]
) -> KedgewiseError | None:
    """Import one file after the other, each noted in `done`; the error at which it stopped."""
    from app.answer_json import imported_json
    from model.service.imports import import_log

    for file in files:
        try:
            found = import_log(opened, file, reason=reason)
        except KedgewiseError as error:
            return error
        tell_notes(found.notes)
        tell("\n  ".join([str(found), *(str(revised) for revised in found.revised)]))
        done.append(imported_json(found))
    return None


def show_moved(moves: "Sequence[Moved]") -> None:
    """What the new pulls did to the standing answers."""
    from app.moves import moved_words

    if moves:
        show("\n  ".join(["What moved (chance that A is higher):", *moved_words(moves)]))


def _take_in(file: Path, store: str | None, *, as_json: bool) -> None:
    from app.answer_json import moved_json, taken_json
    from model.service.imports import standing_of
    from model.service.moved import Moved, storing
    from model.service.packages import import_package
    from model.service.stores import resolve, state_of, store_option
    from model.store.store import Store, needs_making

    folder, moves = resolve(store), tuple[Moved, ...]()
    if needs_making(folder):  # nothing is answered from a store that has no fit
        taken = import_package(file, folder)
    else:
        taken, moves = storing(Store.open(folder), lambda: import_package(file, folder))
    state = state_of(Store.open(folder))
    if as_json:
        said = {"sentence": standing_of(state), "moved": moved_json(moves)}
        show_json({**taken_json(taken), **said})
        return
    show(str(taken))
    if taken.changes:
        tell(ADD_TO_FILE)
    show(with_store(standing_of(state), store_option(store, folder)))
    show_moved(moves)


def export(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where the package goes (.zip).")],
    *,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Write campaign and pulls with all their history as an open data package."""
    from model.service.packages import export_package
    from model.service.stores import open_store

    opened = open_store(store)
    done = export_package(opened, file)
    if as_json:
        counts = {"pulls": done.pulls, "revisions": done.revisions}
        show_json({"store": str(opened.folder), "file": str(done.path), **counts})
    else:
        show(f"{done.pulls} pulls in {done.revisions} versions are in {done.path}")
