"""What to pull next, a day's order, and how many pulls a question needs."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.commands.options import AsJson, StoreOption
from app.terminal import progress, show, show_json

if TYPE_CHECKING:
    from collections.abc import Sequence

    from model.service.planning_start import Wish

Questions = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[QUESTION]…",
        help="Standing questions, or treatments in general; else the main question.",
        show_default=False,
    ),
]
Weights = Annotated[
    list[float] | None, typer.Option("--weight", help="One for each question, in their order.")
]
Without = Annotated[
    list[str] | None,
    typer.Option(help='What is not aboard: "anchor=S6", "leader=wire 2 m", "seabed=soft mud".'),
]
Scopes = Annotated[
    list[float] | None, typer.Option("--scope", help="One more scope that can be had.")
]
Camera = Annotated[
    bool | None,
    typer.Option("--camera/--no-camera", help="Whether how it sets will be seen; else as so far."),
]
Today = Annotated[
    str | None, typer.Option(metavar="OUTING", help="The outing that goes on; else a new day.")
]
Hours = Annotated[float, typer.Option(help="Hours on the water: of a day, or that are left.")]
Seed = Annotated[int, typer.Option(min=0, help="The same seed, the same rehearsed campaigns.")]


def next_pull(  # noqa: PLR0913 - each is an option of its own
    questions: Questions = None,
    *,
    weight: Weights = None,
    without: Without = None,
    scope: Scopes = None,
    camera: Camera = None,
    today: Today = None,
    hours: Hours = 6.0,
    most: Annotated[int, typer.Option(min=1, help="Rows of each table.")] = 5,
    outlook: Annotated[
        bool,
        typer.Option("--outlook/--no-outlook", help="Rehearse two days of it; without, faster."),
    ] = True,
    seed: Seed = 1,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """What to pull next, why, and whether it can settle the question."""
    from app.planned import require_planned, tell_behind
    from app.planning_json import next_json
    from app.planning_text import next_view
    from model.service.next_pulls import next_pulls
    from model.service.stores import open_store, store_option

    opened = open_store(store)
    named = store_option(store, opened.folder)
    wish = _wish(questions, weight, without, scope, camera=camera, today=today)
    with progress("Ranking what could be pulled, and rehearsing it: some seconds.") as report:
        found = require_planned(
            next_pulls(opened, wish, hours=hours, has_outlook=outlook, seed=seed, progress=report),
            named,
        )
    if as_json:
        show_json(next_json(found, most))
        return
    show(next_view(found, most))
    tell_behind(opened, found.begun, named)


def day(  # noqa: PLR0913 - each is an option of its own
    questions: Questions = None,
    *,
    weight: Weights = None,
    without: Without = None,
    scope: Scopes = None,
    camera: Camera = None,
    today: Today = None,
    hours: Hours = 6.0,
    seed: Annotated[
        int | None,
        typer.Option(min=0, help="Of the order of arms; else the one kept for this day."),
    ] = None,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE.html", help="A page to print.")
    ] = None,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Plan a day's pulls in a sound order; again after each pull, for the hours that are left."""
    from app.planned import require_page, require_planned, tell_behind, write_page
    from app.planning_json import day_json
    from app.planning_text import day_view
    from model.service.day_plans import plan
    from model.service.stores import open_store, store_option

    require_page(output)
    opened = open_store(store)
    named = store_option(store, opened.folder)
    wish = _wish(questions, weight, without, scope, camera=camera, today=today)
    with progress("Planning the day, and rehearsing it: some seconds.") as report:
        found = require_planned(plan(opened, wish, hours=hours, seed=seed, progress=report), named)
    if output is not None:
        write_page(output, found, hours, named)
    if as_json:
        show_json(day_json(found))
        return
    show(day_view(found, hours, named))
    tell_behind(opened, found.begun, named)
    if output is not None:
        show(f"To print: {output}")


def rehearse(  # noqa: PLR0913 - each is an option of its own
    questions: Questions = None,
    *,
    without: Without = None,
    scope: Scopes = None,
    camera: Camera = None,
    today: Today = None,
    hours: Hours = 6.0,
    campaigns: Annotated[int, typer.Option(help="Rehearsed for each row: 10 to 5000.")] = 100,
    pulls: Annotated[int, typer.Option(help="After which one ends: 2 to 200.")] = 24,
    jobs: Annotated[int, typer.Option(help="Processes at once; -1 for one a core.")] = 1,
    seed: Seed = 1,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """How many pulls a question needs, by ways to choose them and by true effect."""
    from app.planned import require_planned, tell_behind
    from app.planning_json import rehearsal_json
    from app.planning_text import rehearsal_view
    from model.service.rehearsals import rehearse_question
    from model.service.stores import open_store, store_option

    opened = open_store(store)
    named = store_option(store, opened.folder)
    wish = _wish(questions, None, without, scope, camera=camera, today=today)
    with progress(f"Rehearsing {campaigns} campaigns a row: a minute or more.") as report:
        report(0.0, "rehearsing")
        found = require_planned(
            rehearse_question(
                opened,
                wish,
                hours=hours,
                n_campaign=campaigns,
                most_pulls=pulls,
                seed=seed,
                n_jobs=jobs,
                progress=report,
            ),
            named,
        )
    if as_json:
        show_json(rehearsal_json(found, seed))
        return
    show(rehearsal_view(found))
    tell_behind(opened, found.begun, named)


def _wish(
    questions: "Sequence[str] | None",
    weights: "Sequence[float] | None",
    without: "Sequence[str] | None",
    scopes: "Sequence[float] | None",
    *,
    camera: bool | None,
    today: str | None,
) -> "Wish":
    from model.service.planning_start import Wish

    return Wish(
        questions=tuple(questions or ()),
        weights=tuple(weights or ()),
        without=tuple(without or ()),
        scopes=tuple(scopes or ()),
        has_camera=camera,
        today=today,
    )
