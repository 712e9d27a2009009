"""Parameters of a test of which a seeded few are tried in every run, and all others in the long one."""

from __future__ import annotations

import random
from collections.abc import Iterable
from typing import Any

import pytest


def some_of(values: Iterable[Any], count: int) -> list[Any]:
    """Return the values as parameters (a tuple as several), all but a seeded few of them marked as slow."""
    every = [value if isinstance(value, tuple) else (value,) for value in values]
    kept = set(random.Random(f"{count} of {len(every)}").sample(range(len(every)), count))
    return [pytest.param(*value, marks=() if place in kept else pytest.mark.slow) for place, value in enumerate(every)]
