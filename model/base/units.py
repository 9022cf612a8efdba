"""Conversion at the border: whatever unit a log or campaign file uses, SI inside.

Pint does the arithmetic; the exact factors are those of NIST SP 811.
"""

from functools import cache
from typing import Final

from pint import UnitRegistry

from model.base.errors import InputError

LOAD_UNITS: Final = {
    "n": "newton",
    "kn": "kilonewton",
    "dan": "decanewton",
    "kgf": "kilogram_force",
    "kg": "kilogram_force",  # a scale reading: mass named, force meant; the reader notes it
    "lbf": "pound_force",
    "lb": "pound_force",
    "tf": "metric_ton * g_0",
}
LOAD_SYMBOLS: Final = {
    "n": "N",
    "kn": "kN",
    "dan": "daN",
    "kgf": "kgf",
    "kg": "kgf",
    "lbf": "lbf",
    "lb": "lbf",
    "tf": "tf",
}
"""How a load unit is printed."""
LENGTH_UNITS: Final = {"m": "meter", "ft": "foot", "cm": "centimeter", "in": "inch"}
MASS_UNITS: Final = {"kg": "kilogram", "g": "gram", "lb": "pound"}


@cache
def _registry() -> UnitRegistry:
    return UnitRegistry(cache_folder=None)


@cache
def _factor(unit: str, target: str) -> float:
    registry = _registry()
    return float(registry.Quantity(1.0, unit).to(target).magnitude)


def _convert(value: float, unit: str, known: dict[str, str], target: str, kind: str) -> float:
    name = known.get(unit.strip().lower())
    if name is None:
        raise InputError(f"unknown {kind} unit {unit!r}", hint=f"Use one of: {', '.join(known)}.")
    return value * _factor(name, target)


def to_kn(value: float, unit: str) -> float:
    """Convert a load to kilonewtons.

    Parameters
    ----------
    value : float
        Load in `unit`.
    unit : str
        One of ``LOAD_UNITS``, any case.

    Returns
    -------
    float
        Load, kN.

    Raises
    ------
    InputError
        If the unit is not known.
    """
    return _convert(value, unit, LOAD_UNITS, "kilonewton", "load")


def to_m(value: float, unit: str) -> float:
    """Convert a length in one of ``LENGTH_UNITS`` to metres; see :func:`to_kn`."""
    return _convert(value, unit, LENGTH_UNITS, "meter", "length")


def to_kg(value: float, unit: str) -> float:
    """Convert a mass in one of ``MASS_UNITS`` to kilograms; see :func:`to_kn`."""
    return _convert(value, unit, MASS_UNITS, "kilogram", "mass")


def from_kn(load_kn: float, unit: str) -> float:
    """Convert kilonewtons to the campaign's own load unit, for display."""
    return load_kn / to_kn(1.0, unit)


def from_m(length_m: float, unit: str) -> float:
    """Convert metres to the campaign's own length unit, for display."""
    return length_m / to_m(1.0, unit)
