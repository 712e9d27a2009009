"""Shipped layouts, each read once: a layout never changes, and reading it anew in each test takes longer than most."""

from __future__ import annotations

from functools import cache

from matrixcheck.layout.files import read_layout, shipped
from matrixcheck.layout.model import Layout


@cache
def shipped_layout(name: str) -> Layout:
    """Return the layout that is shipped under a name."""
    return read_layout(shipped()[name])


def saltmarsh_tram() -> Layout:
    """Return the layout of the invented machine with all kinds of matrices."""
    return shipped_layout("saltmarsh-tram")
