"""Two quiet themes. The fills of the marks are the same in both and come from the one place that every face uses."""

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

NAMED: Mapping[str, Theme] = MappingProxyType(dict(zip(THEME_NAMES, (DARK, LIGHT), strict=True)))
"""The themes by the names that a person chooses them by, in the order of choosing."""
