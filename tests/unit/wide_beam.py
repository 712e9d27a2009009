"""A beam that leaves out next to nothing: what a search within its usual bounds is held to."""

from __future__ import annotations

from types import ModuleType

import pytest

from matrixcheck.diagnosis import diagnose as analysis
from matrixcheck.diagnosis.inference.beam import hidden, search

WIDE: dict[ModuleType, dict[str, float]] = {
    analysis: {"SEARCH": 60e9, "WEIGHING": 60e9},
    search: {
        "BEAM_WIDTH": 20,
        "ADDITIONS": 80,
        "FULL_RANKS": 30,
        "FEW_ADDITIONS": 60,
        "LARGER_KEPT": 20,
        "MOST_ALIKE": 8,
        "NEAR": 14.0,
        "HOPELESS": 40.0,
        "POOR_NET": -60.0,
        "MOST_DEFERRED_SCORED": 6000,
        "NEGLIGIBLE_SHARE": 0.0005,
    },
    hidden: {"MOST": 400, "NEAR": 14.0},
}
"""Bounds of what the beam looks at, by module: some ten times as much as usual."""


def widen(patched: pytest.MonkeyPatch) -> None:
    """Widen the bounds."""
    for home, values in WIDE.items():
        for name, value in values.items():
            patched.setattr(home, name, value)
