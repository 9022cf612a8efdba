"""The fit, and what it answers."""

from collections.abc import Sequence
from typing import Annotated

import typer

from app.commands.options import MEASURES, AsJson, StoreOption
from app.terminal import progress, show, show_json
from model.base.errors import InputError


def demo(*, store: StoreOption = None, as_json: AsJson = False) -> None:
    """Make, fit and answer the demo: invented pulls from an invented bay."""
    from app.answer_json import plain, standing_json
    from app.answer_text import standing_view
    from app.planned import demo_pulls
    from app.planning_json import ranked_json
    from app.planning_text import short_view
    from model.service.demo import demo as make_demo
    from model.service.stores import name_of, store_option

    with progress("Fitting the demo twice: about a minute the first time.") as report:
        made = make_demo(store=store, progress=report)
    begun, pairs = demo_pulls(made)
    if as_json:
        head = {"store": str(made.folder), "posterior": plain(made.fitted.stored.summary)}
        show_json({**head, **standing_json(made.answers), "next": ranked_json(pairs)})
        return
    show(standing_view(made.answers, made.campaign))
    show(short_view(begun, pairs))
    show(f"The store is in {made.folder}")
    named = store_option(store or name_of(made.folder), made.folder)
    show(f"Open the web app: kedgewise serve{named}")


def fit(
    *,
    trail: Annotated[
        bool,
        typer.Option("--trail", help="Also fit each day's end, to see how answers moved."),
    ] = False,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Fit all pulls, and keep how every standing question stands."""
    from app.answer_json import plain
    from model.service.fits import fit as fit_store
    from model.service.stores import open_store, state_of, store_option
    from model.service.trail_filling import fill_trail_step

    opened = open_store(store)
    pulls = state_of(opened).used_pulls
    with progress(f"Fitting {pulls} pulls: about a minute the first time.") as report:
        fitted = fit_store(opened, progress=report)
    while trail:
        with progress("Fitting a day's end, for how answers moved.") as report:
            trail = fill_trail_step(opened, progress=report)
    if as_json:
        check = opened.posterior(fitted.stored.id).fit_check.model_dump(mode="json")
        head = {"store": str(opened.folder), "state": fitted.state}
        show_json({**head, "posterior": plain(fitted.stored.summary), "fit_check": check})
        return
    done = "Nothing has changed since the fit" if fitted.state == "unchanged" else "Fitted"
    named = store_option(store, opened.folder)
    show(f"{done}: {fitted.stored.pulls} pulls, fit check passed. Next: kedgewise ask{named}")


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
    at: Annotated[
        str | None,
        typer.Option(metavar="POSTERIOR", help="As it stood then; `--at list` shows what is kept."),
    ] = None,
    store: StoreOption = None,
    as_json: AsJson = False,
) -> None:
    """Ask one question, or see how all the standing ones stand."""
    from app.asking import show_answers, show_past, show_standing
    from model.service.questions import Terms, compare, find, vary
    from model.service.stores import open_store, store_option

    options = {"--seabed": seabed, "--measure": measure, "--hold": hold, "--band": band}
    given = [name for name, value in options.items() if value is not None]
    given += ["--next-anchor"] if next_anchor else []
    _require_one_way(question, a, b, given)
    opened = open_store(store)
    if at is not None:
        _require_kept(question, given, has_details=details)
        show_past(opened, question or "", at, as_json=as_json)
        return
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


def _require_kept(question: str | None, given: Sequence[str], *, has_details: bool) -> None:
    more = [*given, *(["--details"] if has_details else [])]
    if question is None or more:
        found = "no name beside it" if question is None else f"{', '.join(more)} beside it"
        raise InputError(
            f"--at shows an answer as it was kept, and there is {found}",
            hint='As: kedgewise ask "leader in general" --at 1f0c2a9b, or --at list.',
        )


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
