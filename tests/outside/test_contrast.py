"""Text on its ground in every theme, against the contrast that W3C asks for.

Source: Web Content Accessibility Guidelines 2.2, success criteria 1.4.3 (at least 4.5 to 1 for text) and
1.4.6 (at least 7 to 1, enhanced), and the definitions of relative luminance and contrast ratio. Status: memory, widely
published; so are the two greys.
"""

from __future__ import annotations

import pytest
from textual.theme import Theme

from matrixcheck.report.glyphs import FILLS, INK
from matrixcheck.tui.themes import NAMED

ENOUGH, HIGH = 4.5, 7.0
THEMES = pytest.mark.parametrize(("name", "theme"), NAMED.items(), ids=list(NAMED))


def least(name: str) -> float:
    """The contrast that a theme must have, by its name."""
    return HIGH if "contrast" in name else ENOUGH


def luminance(colour: str) -> float:
    """Relative luminance of #RRGGBB, from 0 to 1."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, from 1 to 21."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize(("grey", "ratio"), [("#000000", 21.0), ("#767676", 4.54), ("#777777", 4.48)])
def test_published_contrasts_with_white_are_met(grey: str, ratio: float) -> None:
    assert contrast(grey, "#FFFFFF") == pytest.approx(ratio, rel=0, abs=0.005)


@THEMES
@pytest.mark.parametrize("ground", ["background", "panel"])
def test_every_tone_of_text_stands_out_from_both_grounds(name: str, theme: Theme, ground: str) -> None:
    on = getattr(theme, ground)
    tones = {"foreground": theme.foreground, **{tone: theme.variables[tone] for tone in ("faded", "sign")}}
    assert {tone: contrast(shown, on) for tone, shown in tones.items() if contrast(shown, on) < least(name)} == {}


@THEMES
def test_the_cursor_stands_out(name: str, theme: Theme) -> None:
    assert contrast(theme.background, theme.variables["pointer"]) >= least(name)


@THEMES
def test_ink_stands_out_from_every_fill(name: str, theme: Theme) -> None:
    fills = [theme.variables[f"fill-{mark}"] for mark, fill in FILLS.items() if fill]
    assert len(fills) == 3
    assert min(contrast(INK, fill) for fill in fills) >= max(least(name), 5)


def test_there_are_themes_of_high_contrast_on_dark_and_on_light_ground() -> None:
    assert {theme.dark for name, theme in NAMED.items() if least(name) == HIGH} == {True, False}
