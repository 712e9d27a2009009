"""Which wires the logic ends of one side of a matrix lead to, with the faults that lie on its lines."""

from __future__ import annotations

from dataclasses import dataclass, field

from matrixcheck.diagnosis.machine.matrix_frame import Floats, identity


@dataclass
class LineSide:
    """The lines of one side while faults are added to it."""

    count: int
    parted: set[int] = field(default_factory=set)
    muted: set[int] = field(default_factory=set)
    stuck: set[int] = field(default_factory=set)
    grounded: set[int] = field(default_factory=set)
    crossed: list[tuple[int, int]] = field(default_factory=list)
    displaced: list[dict[int, int | None]] = field(default_factory=list)
    shorted: list[tuple[int, int]] = field(default_factory=list)

    @property
    def plain(self) -> bool:
        return not (self.parted or self.muted or self.crossed or self.displaced or self.shorted)

    def groups(self) -> list[set[int]]:
        """Return for each wire the wires that are joined to it, itself included."""
        found = [{index} for index in range(self.count)]
        for a, b in self.shorted:
            merged = found[a] | found[b]
            for index in merged:
                found[index] = merged
        return found

    def without_muted(self, reach: Floats) -> Floats:
        """Return `reach` [logic end, wire] less the lines whose chip is dead, which commands and senses nothing."""
        if not self.muted:
            return reach
        left = reach.copy()
        left[list(self.muted)] = 0.0
        return left

    def grounded_wires(self) -> tuple[int, ...]:
        """Return the wires at ground, with all that touch them."""
        if not self.grounded:
            return ()
        groups = self.groups()
        return tuple(sorted(set().union(*(groups[index] for index in self.grounded))))

    def reach(self) -> Floats:
        """Return which wires each logic end leads to, (logic end, wire) as 0.0 or 1.0."""
        reach = identity(self.count).copy()
        if self.crossed:
            order = list(range(self.count))
            for a, b in self.crossed:
                order[a], order[b] = order[b], order[a]
            reach = reach[order]
        for pins in reversed(self.displaced):
            meets = identity(self.count).copy()
            for end, wire in pins.items():
                meets[end] = 0.0 if wire is None else identity(self.count)[wire]
            reach = meets @ reach
        if self.shorted:
            joined = identity(self.count).copy()
            for wire, group in enumerate(self.groups()):
                if len(group) > 1:
                    joined[wire, list(group)] = 1.0
            reach = reach @ joined
        if self.parted:
            reach[list(self.parted)] = 0.0
        return reach
