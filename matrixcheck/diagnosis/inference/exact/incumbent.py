"""A good set of faults, built greedily: the best one is added again and again."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.components import Component


class Incumbent(NamedTuple):
    """The best set known: its items in the order in which they were added, and log of its weight."""

    items: tuple[int, ...]
    weight: float


POWERS = (0, 2)
"""Exponents of the share that an item gains of what it might: 0 adds items by what they gain, 2 prefers those all of
whose cells fit."""


def incumbent(component: Component) -> Incumbent:
    """Build a good set: the best of one a power."""
    return max((_filled(component, (), power) for power in POWERS), key=lambda found: found.weight)


def incumbent_with(component: Component, item: int) -> Incumbent:
    """Build a good set that holds an item."""
    return _filled(component, (item,), POWERS[0])


def improved(component: Component, good: Incumbent) -> Incumbent:
    """Take items out and put others in for them as long as that makes the set better."""
    at = 0
    while len(good.items) > 1 and at < len(good.items):
        rest = good.items[:at] + good.items[at + 1 :]
        rivals = [_filled(component, rest, power, good.items[at]) for power in POWERS]
        best = max(rivals, key=lambda found: found.weight)
        at = 0 if best.weight > good.weight + 1e-9 else at + 1
        good = max(good, best, key=lambda found: found.weight)
    return good


def _filled(component: Component, start: tuple[int, ...], power: int, without: int | None = None) -> Incumbent:
    """Start with these items and add the best one again and again; `without`: an item not to be added."""
    entries, odds = component.entries, component.odds
    count, width = component.gains.shape
    gains, all_offsets = component.gains.ravel(), np.arange(count) * width
    offset = all_offsets[entries.place]
    code = np.bitwise_or.reduce(component.codes[list(start)], axis=0) if start else np.zeros(count, dtype=np.int64)
    weight = float(gains[all_offsets + code].sum() + odds[list(start)].sum())
    chosen = list(start)
    while len(odds):
        before = code[entries.place]
        change = gains[offset + (before | entries.bits)] - gains[offset + before]
        gain = entries.sums(change) + odds
        might = np.maximum(entries.sums(np.maximum(change, 0.0)), 1.0)
        promise = gain * np.maximum(gain / might, 0.0) ** power
        promise[chosen] = -np.inf  # a part that was found faulty has odds above one: it would be added for ever
        if without is not None:
            promise[without] = -np.inf
        best = int(promise.argmax())
        if promise[best] <= 0:
            break
        chosen.append(best)
        weight += float(gain[best])
        code = code | component.codes[best]
    return Incumbent(tuple(chosen), weight)
