"""Units come out by their exact factors, whatever Pint calls them."""

import pytest

from model.base.errors import InputError
from model.base.units import (
    LENGTH_UNITS,
    LOAD_UNITS,
    from_kn,
    from_m,
    to_kg,
    to_kn,
    to_m,
)

# NIST SP 811: exact by definition.
LBF_N = 4.4482216152605
KGF_N = 9.80665
FT_M = 0.3048


@pytest.mark.parametrize(
    ("unit", "kn"),
    [
        ("n", 1e-3),
        ("kn", 1.0),
        ("dan", 1e-2),
        ("kgf", KGF_N / 1000),
        ("kg", KGF_N / 1000),
        ("lbf", LBF_N / 1000),
        ("lb", LBF_N / 1000),
        ("tf", KGF_N),  # a tonne-force is 1000 kgf
    ],
)
def test_load(unit: str, kn: float) -> None:
    assert to_kn(1.0, unit) == pytest.approx(kn, rel=1e-12)
    assert from_kn(kn, unit) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "metre"), [("m", 1.0), ("ft", FT_M), ("cm", 0.01), ("in", FT_M / 12)]
)
def test_length(unit: str, metre: float) -> None:
    assert to_m(1.0, unit) == pytest.approx(metre, rel=1e-12)
    assert from_m(metre, unit) == pytest.approx(1.0, rel=1e-12)


# A pound is exactly 0.45359237 kg: lbf over standard gravity, NIST SP 811.
@pytest.mark.parametrize(("unit", "kg"), [("kg", 1.0), ("g", 1e-3), ("lb", LBF_N / KGF_N)])
def test_mass(unit: str, kg: float) -> None:
    assert to_kg(1.0, unit) == pytest.approx(kg, rel=1e-12)


def test_own_unit_changes_no_digit() -> None:
    """Otherwise a log written and read back would differ in its last digit."""
    assert (to_kn(1.0, "kn"), to_m(1.0, "m"), to_kg(1.0, "kg")) == (1.0, 1.0, 1.0)


def test_every_unit_is_covered() -> None:
    assert len(LOAD_UNITS) == 8
    assert len(LENGTH_UNITS) == 4


def test_case_and_spaces_do_not_matter() -> None:
    assert to_kn(1.0, " KN ") == 1.0


@pytest.mark.parametrize("convert", [to_kn, to_m, to_kg])
def test_unknown_unit(convert) -> None:
    with pytest.raises(InputError, match=r"unknown .* unit 'stone'") as caught:
        convert(1.0, "stone")
    assert caught.value.hint.startswith("Use one of: ")
