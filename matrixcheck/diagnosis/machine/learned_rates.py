"""Rates of faults as the closed visits of a workshop bear them out.

Of each class of parts and faults a rate is the chance that one such part has that fault on a machine that comes in. So
one part on one visit counts once, and counts again when the machine is back. It counts as seen where a cell that
depends on it was tested. Its prior is Beta(p w, (1 - p) w), with p the rate in use and w = WEIGHT; after k faults
among n parts seen it is Beta(p w + k, (1 - p) w + n - k) (conjugate prior of the binomial: Gelman et al., Bayesian Data
Analysis, 3rd ed., §2.4).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.priors import Rates, cell_sort, part_kind, shipped_rates, stuck_kind
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.visits import Cured, Visit

WEIGHT = 500
"""Parts of a class that the rate in use weighs as much as (common practice, no source): ten machines move it."""

RateName = tuple[str, ...]
"""The table of a rate and its name there, as in `priors.toml`: ("part", "fuse"), ("cell", "led", "device-dead")."""

_OF_PARTS = (FaultClass.OPEN, FaultClass.UNPLUGGED, FaultClass.FUSE_BLOWN, FaultClass.RELAY_STUCK)
_OF_CELLS = (FaultClass.DEVICE_DEAD, FaultClass.DEVICE_STUCK)
_WHEN_ON = (FaultClass.STUCK_ON, FaultClass.GROUNDED, FaultClass.DEVICE_STUCK, FaultClass.RELAY_STUCK)
"""Faults that leave something on; all others leave it dead."""


class LearnedRate(NamedTuple):
    """A rate in use, what was seen, and the posterior Beta(`a`, `b`) of both.

    `seen` counts parts on visits, `visits` the visits with at least one, `failed` those of the parts that were cured.
    """

    name: RateName
    in_use: float
    seen: int
    visits: int
    failed: int

    @property
    def a(self) -> float:
        """Return the first parameter of the posterior."""
        return self.in_use * WEIGHT + self.failed

    @property
    def b(self) -> float:
        """Return the second parameter of the posterior."""
        return (1 - self.in_use) * WEIGHT + self.seen - self.failed

    @property
    def mean(self) -> float:
        """Return the chance after what was seen."""
        return self.a / (self.a + self.b)


def learned(visits: Iterable[Visit], rates: Rates | None = None) -> tuple[LearnedRate, ...]:
    """Return every rate that closed visits can bear out, in the order of `priors.toml`; shipped ones without `rates`.

    A part whose rate its layout gives is left out: the layout knows better.
    """
    known = rates or shipped_rates()
    seen: Counter[RateName] = Counter()
    on_visits: Counter[RateName] = Counter()
    failed: Counter[RateName] = Counter()
    for visit in visits:
        here = Counter(one.name for one in _spots(visit.layout, known) if not visit.tested.isdisjoint(one.cells))
        seen += here
        on_visits += Counter(list(here))
        failed += Counter(_faults(visit, known))
    return tuple(
        LearnedRate(name, _rate(known, name), seen[name], on_visits[name], failed[name]) for name in _names(known)
    )


def with_learned(rates: Rates | None, found: Sequence[LearnedRate], says: str) -> Rates:
    """Return the rates with the learned ones in their places; `says` is said beside every answer by them."""
    known = rates or shipped_rates()
    tables: dict[str, Any] = {one.name[0]: getattr(known, one.name[0]) for one in found}
    for one in found:
        table, *sort, last = one.name
        whole = tables[table]
        tables[table] = {**whole, sort[0]: {**whole[sort[0]], last: one.mean}} if sort else {**whole, last: one.mean}
    return known._replace(**tables, says=says)


class _Spot(NamedTuple):
    """Something that may have one sort of fault, with the cells that depend on it."""

    name: RateName
    place: str
    fault: FaultClass
    cells: frozenset[CellKey]


def _spots(layout: Layout, rates: Rates) -> Iterator[_Spot]:
    """Yield each once, however many faults of one sort it can have: a relay its two positions, a wire its breaks."""
    found: dict[tuple[RateName, str], _Spot] = {}
    for one in candidates(layout, rates):
        if one.fault_class in _OF_CELLS:
            name: RateName = ("cell", cell_sort(layout.cell(one.cells[0])), one.fault_class.value)
            place = str(one.cells[0])
        elif one.part is not None and one.fault_class in _OF_PARTS:
            part = layout.part_by_ref.get(one.part)
            if part is not None and part.rate is not None:
                continue
            name, place = part_kind(layout, one.part, rates), one.part
        elif one.fault_class in (FaultClass.OPEN, FaultClass.STUCK_ON, FaultClass.GROUNDED):
            line = one.lines[0]
            matrix = layout.matrix(line.matrix)
            place = one.part or str(line)
            name = {
                FaultClass.OPEN: ("line", "open"),
                FaultClass.STUCK_ON: ("stuck_on", stuck_kind(matrix, line)),
                FaultClass.GROUNDED: ("grounded", matrix.kind.value),
            }[one.fault_class]
        else:
            continue
        found.setdefault((name, place), _Spot(name, place, one.fault_class, frozenset(one.cells)))
    yield from found.values()
    for matrix in layout.matrices:
        for key in matrix.lines:
            cells = frozenset(cell.key for cell in matrix.cells_of(key))
            if len(cells) > 1:
                yield _Spot(("line", "break"), str(key), FaultClass.BREAK, cells)


def _faults(visit: Visit, rates: Rates) -> Iterator[RateName]:
    """Yield the sort of fault that each repair cured, where it is one of those that are counted."""
    spots = list(_spots(visit.layout, rates))
    for cured in visit.cured:
        there = [one for one in spots if one.place == cured.place]
        name = next((one.name for one in there if _fits(one, cured, visit.tested)), None)
        if name is not None:
            yield name


def _fits(spot: _Spot, cured: Cured, tested: frozenset[CellKey]) -> bool:
    """Return whether a fault at a spot would show as what was cured.

    A wire that left some of its tested cells working was broken, not open at its start.
    """
    on = len(cured.on) > len(cured.dead)
    if on or spot.fault in _WHEN_ON:
        return spot.fault is FaultClass.RELAY_STUCK or (on and spot.fault in _WHEN_ON)
    if spot.name[0] == "line":
        whole = spot.cells & tested <= cured.dead
        return whole is (spot.fault is FaultClass.OPEN)
    return True


def _names(rates: Rates) -> Iterator[RateName]:
    """Yield the names of all rates that can be learned."""
    yield from (("part", kind) for kind in rates.part if kind != "relay drive")
    yield from (("contact", kind) for kind in rates.contact)
    yield from (("line", kind) for kind in ("open", "break"))
    yield from (("stuck_on", kind) for kind in rates.stuck_on)
    yield from (("grounded", kind) for kind in rates.grounded)
    yield from (("cell", sort, one.value) for sort in rates.cell for one in _OF_CELLS)


def _rate(rates: Rates, name: RateName) -> float:
    table, *names, last = name
    values: Mapping[str, float] = rates.cell[names[0]] if names else getattr(rates, table)
    return values[last]
