"""The effect's distribution with the band, the median and the interval."""

from typing import Final

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import gaussian_kde

from app.figures.frame import Figure, dressed
from app.style import palette
from app.style.numbers import A_NEVER_SET, B_NEVER_SET, effect_figure, percent
from app.style.numbers import effect as effect_words
from model.base.constants import BEYOND
from model.questions.answer import Answer
from model.records.answer import AnswerSummary

GRID_POINTS: Final = 240
SHOWN: Final = (0.002, 0.998)
"""Quantiles between which the curve is drawn: a lone far draw would squeeze the rest."""
HEIGHT: Final = 230
SMALL_HEIGHT: Final = 140


def _drawn(answer: Answer) -> NDArray[np.float64]:
    """Draws that have a place on the axis: a pull that never set has no ratio to another."""
    draws = answer.effect_draws
    if answer.summary.effect.kind != "ratio":
        return draws
    return draws[(draws > 1 / BEYOND) & (draws < BEYOND)]


def not_drawn(answer: Answer) -> str:
    """How much of the distribution has no place in the picture, and why; empty for none."""
    draws = answer.effect_draws
    if answer.summary.effect.kind != "ratio":
        return ""
    shares = {
        B_NEVER_SET: np.mean(draws >= BEYOND),
        A_NEVER_SET: np.mean(draws <= 1 / BEYOND),
    }
    parts = [f"{percent(float(share))} where {who}" for who, share in shares.items() if share > 0]
    return f"Not drawn, since it is no ratio: {' and '.join(parts)}." if parts else ""


def _curve(draws: NDArray[np.float64], *, is_log: bool) -> pd.DataFrame:
    if not draws.size:
        return pd.DataFrame({"effect": [1.0 if is_log else 0.0], "density": [0.0]})
    on_axis = np.log(draws) if is_log else draws
    low, high = np.quantile(on_axis, SHOWN)
    if high - low < 1e-9:  # every draw alike: a smoothed curve does not exist
        low, high = low - 0.05, high + 0.05
        density = np.ones(GRID_POINTS)
        grid = np.linspace(low, high, GRID_POINTS)
    else:
        grid = np.linspace(low, high, GRID_POINTS)
        density = gaussian_kde(on_axis)(grid)
    effect = np.exp(grid) if is_log else 100 * grid
    return pd.DataFrame({"effect": effect, "density": density / density.max()})


def _scale(curve: pd.DataFrame, summary: AnswerSummary, *, is_log: bool) -> alt.Scale:
    factor = 1.0 if is_log else 100.0
    band = summary.question.band
    low = min(curve["effect"].min(), factor * band.lower)
    high = max(curve["effect"].max(), factor * band.upper)
    pad = (high / low) ** 0.04 if is_log else 0.04 * (high - low)
    domain = [low / pad, high * pad] if is_log else [low - pad, high + pad]
    return alt.Scale(type="log" if is_log else "linear", domain=domain, nice=False)


def _ratio_ticks(domain: list[float]) -> list[float]:
    """Ticks of a ratio axis, few enough for a phone."""
    candidates = [0.1, 0.2, 0.33, 0.5, 0.67, 0.8, 0.9, 1, 1.1, 1.25, 1.5, 2, 3, 5, 10, 20]
    inside = [tick for tick in candidates if domain[0] <= tick <= domain[1]]
    kept: list[float] = []
    nearest = np.log(domain[1] / domain[0]) / 7
    for tick in sorted(inside, key=lambda value: abs(np.log(value))):
        if all(abs(np.log(tick / other)) >= nearest for other in kept):
            kept.append(tick)
    return sorted(kept)


def _axis(scale: alt.Scale, *, is_log: bool) -> alt.X:
    if is_log:
        axis = alt.Axis(
            title="ratio, A over B (×)",
            values=_ratio_ticks(scale.domain),
            format="~g",
            grid=False,
        )
    else:
        axis = alt.Axis(
            title="difference, A less B (percentage points)",
            tickCount=6,
            labelExpr="datum.value == 0 ? '0' : format(datum.value, '+d')",
            grid=False,
        )
    return alt.X("effect:Q", scale=scale, axis=axis)


def describe(answer: Answer) -> str:
    """The picture in words, for those who cannot see it."""
    summary = answer.summary
    band, kind = summary.question.band, summary.effect.kind
    said = (
        f"Distribution of the effect of A against B. Median and interval: "
        f"{effect_words(summary.effect)}. Band of no practical difference: "
        f"{effect_figure(band.lower, kind)} to {effect_figure(band.upper, kind)}. "
        f"Chance above the band {percent(summary.p_above_band)}, inside "
        f"{percent(summary.p_inside_band)}, below {percent(summary.p_below_band)}."
    )
    return f"{said} {not_drawn(answer)}".rstrip()


def effect_figure_of(answer: Answer, *, is_small: bool = False) -> Figure:
    """Draw the distribution of an answer's effect.

    Parameters
    ----------
    answer : Answer
        Its `effect_draws` (draw,) are ratios or differences of chances.
    is_small : bool
        Lower, for a card.

    Returns
    -------
    Figure
        Curve, shaded band, line of no difference, median and interval.
    """
    summary = answer.summary
    is_log = summary.effect.kind == "ratio"
    factor = 1.0 if is_log else 100.0
    curve = _curve(_drawn(answer), is_log=is_log)
    scale = _scale(curve, summary, is_log=is_log)
    x = _axis(scale, is_log=is_log)
    y = alt.Y("density:Q", axis=None, scale=alt.Scale(domain=[-0.16, 1.1], nice=False))
    band = pd.DataFrame(
        {
            "effect": [factor * summary.question.band.lower],
            "to": [factor * summary.question.band.upper],
        }
    )
    found = summary.effect
    # An end that has no place on the axis stands at the axis's end, or it would stretch the axis.
    lower, median, upper = np.clip(
        factor * np.array([found.interval.lower, found.median, found.interval.upper]),
        *scale.domain,
    )
    interval = pd.DataFrame({"effect": [lower], "to": [upper], "density": [-0.08]})
    middle = pd.DataFrame({"effect": [median], "density": [-0.08]})
    none = pd.DataFrame({"effect": [factor if is_log else 0.0]})
    layers = [
        alt.Chart(band).mark_rect(color=palette.BAND, opacity=0.75).encode(x=x, x2="to:Q"),
        alt.Chart(curve)
        .mark_area(color=palette.SIDE_A, opacity=0.30, line={"color": palette.SIDE_A})
        .encode(x=x, y=y),
        alt.Chart(none).mark_rule(color=palette.INK, strokeDash=[5, 4]).encode(x=x),
        alt.Chart(interval).mark_rule(color=palette.INK, strokeWidth=3).encode(x=x, x2="to:Q", y=y),
        alt.Chart(middle)
        .mark_point(color=palette.INK, fill=palette.PAPER, size=110, shape="diamond", opacity=1)
        .encode(x=x, y=y),
    ]
    return dressed(layers, describe(answer), height=SMALL_HEIGHT if is_small else HEIGHT)
