"""Whether a fit, and what it answers, can be trusted."""

from typing import Annotated

import typer

from app.commands.options import AsJson, StoreOption
from app.terminal import progress, show, show_json, tell
from model.base.errors import EXIT_FIT_FAILED


def check(
    *,
    refit: Annotated[
        bool,
        typer.Option(
            "--refit",
            help="Fit again without single pulls that the draws cannot do without: at most five.",
        ),
    ] = False,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Can this fit, and these answers, be trusted: each check with its reason and remedy."""
    from app.asking import tell_what_is_behind
    from app.checks_json import checks_json
    from app.checks_text import checks_view
    from app.planned import require_planned
    from model.service.checks import check as check_store
    from model.service.refits import MOST
    from model.service.refits import refit as refit_store
    from model.service.stores import open_store, store_option

    opened = open_store(store)
    named = store_option(store, opened.folder)
    if refit:
        with progress(f"Fitting without single pulls, at most {MOST}: minutes.") as report:
            made = refit_store(opened, progress=report)
        tell(_made_words(made))
    found = require_planned(check_store(opened), named)
    if as_json:
        show_json(checks_json(found))
    else:
        show(checks_view(found))
        tell_what_is_behind(opened, named)
    if found.fit.status == "failed":
        raise typer.Exit(EXIT_FIT_FAILED)


def _made_words(made: int) -> str:
    if made == 0:
        return "No pull asks for a fit without it: none was made."
    return f"{made} fit{'' if made == 1 else 's'} made, each without one pull."
