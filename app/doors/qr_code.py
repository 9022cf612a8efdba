"""A link as a QR code made of text, to be scanned off a terminal of any colours."""

from itertools import zip_longest
from typing import Final

import segno
from rich.color import Color
from rich.style import Style
from rich.text import Text

QUIET_ZONE: Final = 4
"""Light modules around the code, as ISO/IEC 18004 asks for; with fewer, scanners miss it."""
_INK: Final = Style(color=Color.from_rgb(0, 0, 0), bgcolor=Color.from_rgb(255, 255, 255))
"""Dark on light whatever the terminal's own colours: segno's output for terminals takes those,
and comes out reversed on a light one."""
BLOCKS: Final = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}
"""Two modules above each other in one cell, as a cell is twice as high as wide."""


def qr_code(link: str) -> Text:
    """The code as lines of half blocks, quiet zone and all."""
    code = segno.make_qr(link, error="m")
    rows = [[int(bit) for bit in row] for row in code.matrix_iter(border=QUIET_ZONE)]
    empty = [0] * len(rows[0])
    pairs = zip_longest(rows[::2], rows[1::2], fillvalue=empty)
    lines = ["".join(BLOCKS[cell] for cell in zip(*pair, strict=True)) for pair in pairs]
    return Text("\n").join(Text(line, style=_INK) for line in lines)
