"""The colours, measured: contrast with the page, and difference for readers who see fewer colours.

Contrast by WCAG 2.2 (relative luminance, 1.4.11 asks for 3:1 of graphical objects, 1.4.3 for 4.5:1 of text).
Colour blindness by Machado, Oliveira and Fernandes (2009), full severity, on linear RGB; difference as CIE
1976 Delta E, of which about 2.3 is just noticed (Mahy, Van Eycken and Oosterlinck, 1994).
"""

from itertools import combinations

import numpy as np
import pytest

from service.plot.chart import COLOURS
from service.plot.palette import DARK, LIGHT, LINE_DASHES, SHORT_DASHES, Theme
from service.plot.shapes import _SHAPES

THEMES = [pytest.param(LIGHT, id="light"), pytest.param(DARK, id="dark")]
SEEN = {
    "all": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
# linear sRGB to XYZ and the white of D65 (IEC 61966-2-1)
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = TO_XYZ.sum(axis=1)
JUST_NOTICED = 2.3


def linear(colour: str) -> np.ndarray:
    value = np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    light, dark = sorted((float(TO_XYZ[1] @ linear(colour)) for colour in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    ratio = TO_XYZ @ np.clip(rgb, 0, 1) / WHITE
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_black_on_white_has_the_contrast_of_the_standard() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=0.01)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the usual example just below 4.5


@pytest.mark.parametrize("theme", THEMES)
def test_lines_stand_out_from_the_page(theme: Theme) -> None:
    assert len(theme.colours) == COLOURS
    for ground in (theme.page, theme.shade):
        for colour in theme.colours:
            assert contrast(colour, ground) >= 3, (colour, ground)


@pytest.mark.parametrize("theme", THEMES)
def test_words_can_be_read(theme: Theme) -> None:
    for ink in (theme.ink, theme.faint):
        assert contrast(ink, theme.page) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("sight", SEEN)
def test_colours_differ_for_every_reader(theme: Theme, sight: str) -> None:
    seen = [lab(np.array(SEEN[sight]) @ linear(colour)) for colour in theme.colours]
    least = min(float(np.linalg.norm(one - other)) for one, other in combinations(seen, 2))
    assert least > 8 * JUST_NOTICED


def test_every_colour_has_a_pattern_and_a_shape_of_its_own() -> None:
    for looks in (LINE_DASHES, SHORT_DASHES, _SHAPES):
        assert len(set(looks)) == len(looks) == COLOURS
