"""A written load or label, found on a ladder."""

from model.base.units import LOAD_SYMBOLS, from_kn
from model.ingest.cells import CellFault, Measured
from model.ingest.known_names import find_name, shown, suggestion
from model.records.campaign import Ladder

_ROUNDING = 1e-9
"""Relative slack for unit conversions; far below any digit that is written."""


def find_step(written: Measured, ladder: Ladder, *, is_zero_allowed: bool = False) -> float:
    """Load of the step that was written, kN.

    A load is a step's if it lies within half a unit of its last digit, so
    that 2.7 stands for a step of 600 lbf and 2.69 does not.

    Parameters
    ----------
    written : Measured
        Load as written, kN.
    ladder : Ladder
        The outing's.
    is_zero_allowed : bool
        Whether 0 (no step held) will do.

    Raises
    ------
    CellFault
        If no step or more than one fits.
    """
    if is_zero_allowed and written.value == 0:
        return 0.0
    near = [step for step in ladder.loads_kn if is_step(written, step)]
    exact = [step for step in near if abs(step - written.value) <= _ROUNDING * step]
    fitting = exact or near
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        steps = " or ".join(show_load(step, written.unit) for step in fitting)
        found = f"{show_load(written.value, written.unit)} may be the step {steps}"
        raise CellFault(found, "Write one more digit")
    raise _no_step(written, ladder)


def is_step(written: Measured, step_kn: float) -> bool:
    """Whether a load as written is that of a step: within half a unit of its last digit."""
    return _distance(step_kn, written) <= 0.5


def find_label(written: str, ladder: Ladder) -> float | None:
    """Load of the step with that label, kN; None if no step has it."""
    labels = {step.label: step.load_kn for step in ladder.steps if step.label is not None}
    name = find_name(written, list(labels))
    return None if name is None else labels[name]


def no_label(written: str, ladder: Ladder, unit: str) -> CellFault:
    """The fault of a text that is neither a label nor a load of the ladder."""
    labels = [step.label for step in ladder.steps if step.label is not None]
    known = labels or [show_load(step, unit) for step in ladder.loads_kn]
    found = f"{shown(written)} is no step of the ladder {ladder.name!r}"
    return CellFault(found, suggestion(written, known))


def show_load(load_kn: float, unit: str) -> str:
    """A load in the unit it was written in, by the unit's symbol."""
    return f"{from_kn(load_kn, unit):.6g} {LOAD_SYMBOLS[unit.strip().lower()]}"


def _distance(step_kn: float, written: Measured) -> float:
    """Distance in units of the last digit written."""
    return (abs(step_kn - written.value) - _ROUNDING * step_kn) / written.last_digit


def _no_step(written: Measured, ladder: Ladder) -> CellFault:
    unit, value = written.unit, show_load(written.value, written.unit)
    if written.value > ladder.top_kn:
        top = show_load(ladder.top_kn, unit)
        return CellFault(
            f"{value} is above the top of the ladder {ladder.name!r}",
            f"Its top step is {top}; write reading = peak for a load cell",
        )
    nearest = sorted(ladder.loads_kn, key=lambda step: abs(step - written.value))[:2]
    steps = " and ".join(show_load(step, unit) for step in sorted(nearest))
    return CellFault(
        f"{value} is no step of the ladder {ladder.name!r}",
        f"The nearest are {steps}; write reading = peak for a load cell",
    )
