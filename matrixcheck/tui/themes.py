"""Two quiet themes, and two of high contrast.

The fills of the marks come from the one place that every face uses; only that of a dead cell is brighter where contrast
is to be high.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from textual.theme import Theme

from matrixcheck.layout.reading import Mark
from matrixcheck.report.glyphs import FILLS, INK
from matrixcheck.tui.look import THEME_NAMES
from matrixcheck.tui.widths import LABELS, PANE

_FILLS = {f"fill-{mark}": fill for mark, fill in FILLS.items() if fill} | {"ink": INK}
_WIDTHS = {"pane": str(PANE), "labels": str(LABELS)}

DARK = Theme(
    name="workshop-dark",
    primary=FILLS[Mark.WORKING] or INK,
    accent="#E69F00",
    warning="#E69F00",
    error="#D55E00",
    success="#56B4E9",
    foreground="#E6E4DF",
    background="#14171A",
    surface="#14171A",
    panel="#22272C",
    dark=True,
    variables={**_FILLS, **_WIDTHS, "faded": "#9AA3AB", "hollow": "#3A424A", "sign": "#E69F00", "pointer": "#F5F3EE"},
)

LIGHT = Theme(
    name="workshop-light",
    primary="#0072B2",
    accent="#8A5A00",
    warning="#8A5A00",
    error="#A33F00",
    success="#0072B2",
    foreground="#1C1F22",
    background="#FAF8F4",
    surface="#FAF8F4",
    panel="#E9E5DD",
    dark=False,
    variables={**_FILLS, **_WIDTHS, "faded": "#5B636A", "hollow": "#C9C4BA", "sign": "#8A5A00", "pointer": "#14171A"},
)

_BRIGHT = {**_FILLS, **_WIDTHS, "fill-dead": "#FF8A3D"}

CONTRAST = Theme(
    name="workshop-contrast",
    primary="#7FD0FF",
    accent="#FFD500",
    warning="#FFD500",
    error="#FF9A5C",
    success="#7FD0FF",
    foreground="#FFFFFF",
    background="#000000",
    surface="#000000",
    panel="#1C1C1C",
    dark=True,
    variables={**_BRIGHT, "faded": "#D6D6D6", "hollow": "#8A8A8A", "sign": "#FFD500", "pointer": "#FFFFFF"},
)

CONTRAST_LIGHT = Theme(
    name="workshop-contrast-light",
    primary="#004B7A",
    accent="#6B3600",
    warning="#6B3600",
    error="#8F1D00",
    success="#004B7A",
    foreground="#000000",
    background="#FFFFFF",
    surface="#FFFFFF",
    panel="#E8E8E8",
    dark=False,
    variables={**_BRIGHT, "faded": "#3A3A3A", "hollow": "#767676", "sign": "#6B3600", "pointer": "#000000"},
)

NAMED: Mapping[str, Theme] = MappingProxyType(
    dict(zip(THEME_NAMES, (DARK, LIGHT, CONTRAST, CONTRAST_LIGHT), strict=True))
)
"""The themes by the names that a person chooses them by, in the order of choosing."""
