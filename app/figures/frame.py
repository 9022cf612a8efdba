"""What every figure shares: fonts, inks, and the pair of chart and description."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from app.style import palette


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A chart with the text that stands in for it where it cannot be seen."""

    chart: alt.LayerChart
    description: str


def dressed(layers: Sequence[alt.Chart], description: str, *, height: int) -> Figure:
    """Lay layers over each other in the house's fonts and inks; the width is the page's."""
    config: dict[str, Any] = {
        "labelFont": palette.FONT,
        "titleFont": palette.FONT,
        "labelColor": palette.INK,
        "titleColor": palette.INK,
        "labelFontSize": 13,
        "titleFontSize": 13,
        "titleFontWeight": "normal",
        "titleLimit": 0,  # 0: a long title is not cut
    }
    ready = (
        alt.LayerChart(layer=list(layers))
        .properties(height=height, background=palette.PAPER)
        .configure_axis(**config, gridColor=palette.GRID, domainColor=palette.FAINT_INK)
        .configure_legend(**config, orient="top")
        .configure_text(font=palette.FONT, fontSize=13, color=palette.INK)
        .configure_view(strokeWidth=0)
    )
    return Figure(chart=ready, description=description)


def upright_title(title: str, values: list[float]) -> alt.Axis:
    """A vertical axis whose title lies flat above it, where it is read and never cut."""
    return alt.Axis(
        title=title,
        values=values,
        titleAngle=0,
        titleAlign="left",
        titleAnchor="end",
        titleX=-30,
        titleY=-12,
    )
