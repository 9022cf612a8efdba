"""The colours of the house, chosen to stay apart for colour-blind readers.

The pairs in :data:`MUST_DIFFER` are held apart under simulated protanopia,
deuteranopia and tritanopia by tests/app/test_palette.py, and the inks are held
to a contrast of 4.5 against every ground. Colour never carries a meaning alone:
sides also differ by letter and place, findings by word and symbol.
"""

from typing import Final

PAPER: Final = "#fcfbf7"
PANEL: Final = "#f0eee6"
INK: Final = "#18242c"
FAINT_INK: Final = "#52606a"
GRID: Final = "#dcd9cf"

SIDE_A: Final = "#14588c"
SIDE_B: Final = "#b5600f"
BAND: Final = "#cfc6dd"

HIGHER: Final = "#14588c"
LOWER: Final = "#9c4a06"
NO_DIFFERENCE: Final = "#5b4691"
UNSETTLED: Final = "#52606a"
FAILED: Final = "#8b1a45"

GROUNDS: Final = (PAPER, PANEL)
INKS: Final = (INK, FAINT_INK, SIDE_A, HIGHER, LOWER, NO_DIFFERENCE, UNSETTLED, FAILED)
MUST_DIFFER: Final = (
    (SIDE_A, SIDE_B),
    (SIDE_A, BAND),
    (SIDE_B, BAND),
    (HIGHER, LOWER),
    (SIDE_A, PAPER),
    (SIDE_B, PAPER),
    (BAND, PAPER),
)
"""Pairs that stand side by side in a picture and mean different things."""

FONT: Final = "system-ui, -apple-system, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif"
"""Fonts that a machine already has, so that no page asks a font host for one."""
