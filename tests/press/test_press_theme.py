"""Contrast as WCAG 2.2 defines it; colour vision after Machado, Oliveira & Fernandes 2009."""

import re
from dataclasses import astuple
from itertools import combinations

import numpy as np
import pytest

from benchlore.press.theme import DARK, LIGHT, ROLES, SERIES, recoloured

SCHEMES = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
DEFICIENT = {
    # Severity 1.0 of Machado, Oliveira & Fernandes, IEEE TVCG 15 (2009), 1291-1298; matrices from memory.
    "none": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
}


def linear(colour):
    """Linear red, green and blue of ``#rrggbb`` (IEC 61966-2-1)."""
    values = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def contrast(one, other):
    """Contrast ratio (WCAG 2.2, definitions of relative luminance and contrast ratio)."""
    light, dark = sorted((linear(colour) @ [0.2126, 0.7152, 0.0722] for colour in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lab(rgb):
    """CIE 1976 L*a*b* of linear sRGB under D65 (CIE 15)."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ rgb
    ratios = xyz / [0.9505, 1.0, 1.089]
    f = np.where(ratios > (6 / 29) ** 3, np.cbrt(ratios), ratios / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_contrast_formula_gives_published_ratios():
    """Black on white 21:1 by definition; #767676 on white is the usual example just above 4.5:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@SCHEMES
def test_text_is_readable_on_paper_and_in_cautions(palette):
    """WCAG 2.2, success criterion 1.4.3 Contrast (Minimum)."""
    for text in (palette.ink, palette.soft, palette.link):
        assert contrast(text, palette.paper) >= 4.5
        assert contrast(text, palette.wash) >= 4.5
    assert contrast(palette.teal, palette.paper) >= 4.5


@SCHEMES
def test_marks_stand_out_from_paper(palette):
    """WCAG 2.2, success criterion 1.4.11 Non-text Contrast; paler parts have a soft rim."""
    for mark in (palette.copper, palette.teal, palette.soft):
        assert contrast(mark, palette.paper) >= 3


@SCHEMES
@pytest.mark.parametrize("vision", DEFICIENT)
def test_suspects_are_told_apart_with_any_common_colour_vision(palette, vision):
    places = [ROLES[astuple(LIGHT).index(colour)] for colour in (*SERIES, LIGHT.stone)]
    seen = [lab(np.clip(DEFICIENT[vision] @ linear(getattr(palette, role)), 0, 1)) for role in places]
    neighbours = {(k, k + 1) for k in range(len(seen) - 1)}
    for pair in combinations(range(len(seen)), 2):
        distance = np.linalg.norm(seen[pair[0]] - seen[pair[1]])
        assert distance >= (20 if pair in neighbours else 9), (places[pair[0]], places[pair[1]], distance)


@SCHEMES
def test_every_role_has_a_colour_of_its_own(palette):
    colours = astuple(palette)
    assert len(set(colours)) == len(colours)
    assert all(re.fullmatch("#[0-9a-f]{6}", colour) for colour in colours)


def test_every_colour_of_a_drawing_has_its_role():
    assert dict(recoloured())[LIGHT.copper] == "copper"
    assert {role for _, role in recoloured()} == set(ROLES)


def test_copper_is_the_colour_of_the_house():
    assert LIGHT.copper == f"#{176:02x}{106:02x}{48:02x}"
