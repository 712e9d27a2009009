"""Look one test further: how much would be left to tell after a test and the best one that follows it.

Gain alone takes the test that tells most by itself. Where one cause is far likelier than the others, that is often not
the first of the shortest way to the cause.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np

from matrixcheck.diagnosis.machine.matrix_frame import Floats, Ints

LOOKED_AT = 32
"""Tests of most gain that are looked at: half of all on 8x8, which takes off most of what gain alone costs."""


def left_after_two(
    weights: Sequence[float],
    causes: Sequence[Hashable],
    outcomes: Sequence[Sequence[Hashable]],
    chosen: Sequence[int],
) -> list[float]:
    """Return for each chosen test, by number, what is left in bits after it and the best next one.

    One weight and cause a hypothesis, `outcomes[test][hypothesis]` what it shows. The next test counts 1 where more
    than one cause is left. Wrong marks aren't counted: they weigh on all tests alike.
    """
    share, cause = np.array(weights) / sum(weights), np.array(_numbered(causes))
    rows = [tuple(_numbered(row)) for row in outcomes]
    codes = np.array(list(dict.fromkeys(rows)), dtype=np.int64)  # tests that tell the same apart count once
    left = {row: _left_after(share, cause, codes, np.array(row)) for row in {rows[test] for test in chosen}}
    return [left[rows[test]] for test in chosen]


def _left_after(share: Floats, cause: Ints, codes: Ints, test: Ints) -> float:
    """Return what is left after a test and the best one that follows, over what the test may show."""
    return sum(_left(share, cause, codes, test == code) for code in range(int(test.max()) + 1))


def _numbered(values: Sequence[Hashable]) -> list[int]:
    numbers: dict[Hashable, int] = {}
    return [numbers.setdefault(value, len(numbers)) for value in values]


def _left(share: Floats, cause: Ints, codes: Ints, there: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> float:
    """Return what is left of the hypotheses that are still there after the best test of them."""
    its, own = share[there], cause[there]
    whole = _entropy(np.bincount(own, its)[None].astype(np.float64))
    if not whole[0] > 0:
        return 0.0
    kinds = int(own.max()) + 1
    part = codes[:, there]
    width = int(codes.max()) + 1
    flat = (np.arange(len(part))[:, None] * width + part) * kinds + own
    tables = (
        np.bincount(flat.ravel(), np.tile(its, len(part)), len(part) * width * kinds)
        .reshape(-1, kinds)
        .astype(np.float64)
    )
    after = _entropy(tables).reshape(len(part), width).sum(axis=1)
    return float(min(after.min(), whole[0])) + float(its.sum())


def _entropy(table: Floats) -> Floats:
    """Return for each row of weights their sum times their entropy, in bits."""
    total = table.sum(axis=1, keepdims=True)
    ratio = np.divide(table, total, out=np.ones_like(table), where=table > 0)
    found: Floats = -(table * np.log2(ratio)).sum(axis=1)
    return found
