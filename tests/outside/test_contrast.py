"""Text on its ground in both themes, against the contrast that W3C asks for.

Source: Web Content Accessibility Guidelines 2.2, success criterion 1.4.3 (at least 4.5 to 1 for text) and the
definitions of relative luminance and contrast ratio. Status: memory, widely published; so are the two greys.
"""

from __future__ import annotations

import pytest
from textual.theme import Theme

from matrixcheck.report.glyphs import FILLS, INK
from matrixcheck.tui.themes import DARK, LIGHT

ENOUGH = 4.5
THEMES = pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)


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
def test_every_tone_of_text_stands_out_from_both_grounds(theme: Theme, ground: str) -> None:
    on = getattr(theme, ground)
    tones = {"foreground": theme.foreground, **{name: theme.variables[name] for name in ("faded", "sign")}}
    assert {name: contrast(tone, on) for name, tone in tones.items() if contrast(tone, on) < ENOUGH} == {}


@THEMES
def test_the_cursor_stands_out(theme: Theme) -> None:
    assert contrast(theme.background, theme.variables["pointer"]) >= ENOUGH


def test_ink_stands_out_from_every_fill() -> None:
    assert min(contrast(INK, fill) for fill in FILLS.values() if fill) >= 5
