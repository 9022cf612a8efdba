"""Many rehearsals at once: policies and true effects side by side, on all cores if asked."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Final

import numpy as np
from joblib import Parallel, delayed

from model.base.progress import Progress
from model.planning.policies import Policy
from model.planning.rehearsal import Settings, rehearse
from model.planning.rehearsed import Rehearsed
from model.planning.start import Start
from model.records.question import Band

LANDMARKS: Final = (-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5)
"""True effects that are rehearsed, as shares of the way from no difference to the band's end."""


LIKELY: Final = 0.95
"""Mass of the interval beyond which a true effect is not rehearsed."""
PART: Final = 250
"""Campaigns that are rehearsed together: more at once take memory, and leave a core idle. Not by
how many cores there are, or another machine would rehearse others."""


@dataclass(frozen=True, kw_only=True)
class Task:
    """One rehearsal of a sweep."""

    policy: Policy
    settings: Settings


def sweep(
    start: Start, tasks: Sequence[Task], *, n_jobs: int = 1, progress: Progress | None = None
) -> tuple[Rehearsed, ...]:
    """Rehearse every task, in their order.

    Parameters
    ----------
    n_jobs : int
        Processes; -1 for one a core. Each takes some hundred MB.
    """
    parts = [_parts(task.settings) for task in tasks]
    whole = [(task.policy, part) for task, of_task in zip(tasks, parts, strict=True)
             for part in of_task]  # fmt: skip
    if n_jobs == 1:
        coming: Iterable[Rehearsed] = (rehearse(start, *each) for each in whole)
    else:
        coming = Parallel(n_jobs=n_jobs, return_as="generator")(
            delayed(rehearse)(start, *each) for each in whole
        )
    found = []
    for rehearsed in coming:
        found.append(rehearsed)
        if progress is not None:
            progress(len(found) / len(whole), f"rehearsed {len(found)} of {len(whole)}")
    of_parts = iter(found)
    return tuple(Rehearsed.joined([next(of_parts) for _ in of_task]) for of_task in parts)


def _parts(settings: Settings) -> tuple[Settings, ...]:
    """The same in parts of a bearable size, each with a seed of its own."""
    begins = range(0, settings.n_campaign, PART)
    return tuple(
        replace(
            settings,
            n_campaign=min(PART, settings.n_campaign - begin),
            seed=settings.seed if begin == 0 else settings.seed * 1_000_003 + begin,
        )
        for begin in begins
    )


def effects_of(band: Band) -> tuple[float, ...]:
    """True effects from beyond one end of a band to beyond the other, on the effect's scale."""
    low, high = (
        (log(band.lower), log(band.upper)) if band.kind == "ratio" else (band.lower, band.upper)
    )
    return tuple(share * (high if share >= 0 else -low) for share in LANDMARKS)


def possible(start: Start, effects: Sequence[float]) -> tuple[float, ...]:
    """Those of some true effects that what is known does not all but rule out.

    A truth that the pulls so far speak against would be rehearsed against what they say.
    """
    low, high = np.quantile(start.main.effect(start.draws), [(1 - LIKELY) / 2, (1 + LIKELY) / 2])
    return tuple(effect for effect in effects if low <= effect <= high)


def by_effect(policy: Policy, settings: Settings, effects: Sequence[float]) -> tuple[Task, ...]:
    """One task for each true effect."""
    return tuple(
        Task(policy=policy, settings=replace(settings, true_effect=effect)) for effect in effects
    )
