"""The palette holds for colour-blind readers: simulated, and measured."""

import numpy as np
import pytest

from app.style import palette

# Machado, Oliveira and Fernandes 2009, "A physiologically-based model for simulation of color
# vision deficiency", full severity, on linear RGB; values from memory (each row sums to 1).
SIGHTS = {
    "full": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
LEAST_DISTANCE = 15.0  # CIE 1976 Lab units; about 2.3 is just noticeable (memory), this is plain
LEAST_CONTRAST = 4.5  # WCAG 2.1, success criterion 1.4.3, for text
TO_XYZ = np.array(  # sRGB primaries, D65 (IEC 61966-2-1)
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)


def linear(colour):
    values = np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    ratio = TO_XYZ @ np.clip(rgb, 0, 1) / (TO_XYZ @ np.ones(3))
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def distance(one, other, sight):
    seen = [lab(SIGHTS[sight] @ linear(colour)) for colour in (one, other)]
    return float(np.linalg.norm(seen[0] - seen[1]))


def contrast(one, other):
    light = sorted(float(TO_XYZ[1] @ linear(colour)) for colour in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("pair", palette.MUST_DIFFER)
def test_pairs_stay_apart_for_every_sight(pair, sight):
    assert distance(*pair, sight) >= LEAST_DISTANCE


@pytest.mark.parametrize("ground", palette.GROUNDS)
@pytest.mark.parametrize("ink", palette.INKS)
def test_every_ink_reads_on_every_ground(ink, ground):
    assert contrast(ink, ground) >= LEAST_CONTRAST


def test_red_against_green_would_be_refused():
    assert distance("#b04a3a", "#7a6a2a", "full") >= LEAST_DISTANCE
    assert distance("#b04a3a", "#7a6a2a", "deuteranopia") < LEAST_DISTANCE


def test_pale_ink_would_be_refused():
    assert contrast("#9aa3a8", palette.PAPER) < LEAST_CONTRAST


def test_simulations_leave_grey_alone():
    for matrix in SIGHTS.values():
        assert matrix @ np.ones(3) == pytest.approx(np.ones(3), abs=1e-5)


def test_black_on_white_has_the_largest_contrast():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
