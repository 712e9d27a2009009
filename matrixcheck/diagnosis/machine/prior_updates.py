"""What bench checks and repairs found, as evidence on sets of candidates.

A check looks at a place for faults of some classes. Found good, all that it can see there are good, but for the share
that such a check leaves over; found faulty, one of these is faulty, which of them goes by their rates. What a check
can't see keeps its rate. The shares stand under `[check]` in `priors.toml`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import TRAITS, Site
from matrixcheck.diagnosis.machine.priors import Rates, shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.errors import UsageError
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import LineKey, parse_cell, parse_line
from matrixcheck.layout.problems import nearest, shown
from matrixcheck.layout.reading import Finding

Sees = Mapping[FaultClass, str]
"""The classes of fault that a check can see, each with the name of the share that it leaves over."""

CHECKS: Mapping[str, Sees] = {
    "look at a plug": {
        FaultClass.UNPLUGGED: "plug",
        FaultClass.PLUGS_SWAPPED: "plug",
        FaultClass.PLUG_SHIFTED: "plug",
        FaultClass.OPEN: "contacts of a plug",
    },
    "fuse out": {FaultClass.FUSE_BLOWN: "fuse"},
    "swap a bulb": {FaultClass.DEVICE_DEAD: "bulb swapped"},
    "device across its lugs": {FaultClass.DEVICE_DEAD: "device", FaultClass.DEVICE_STUCK: "device"},
    "contact": {FaultClass.OPEN: "contact"},
    "first wire": {FaultClass.OPEN: "wire"},
    "wire to ground": {FaultClass.GROUNDED: "wire"},
    "two wires": {FaultClass.SHORTED_TOGETHER: "wire"},
    "wire to the other line": {FaultClass.CROSSED: "wire"},
    "across the break": {FaultClass.BREAK: "wire"},
    "diode": {FaultClass.DIODE_OPEN: "diode", FaultClass.DIODE_SHORTED: "diode"},
    "look at a diode": {FaultClass.DIODE_REVERSED: "diode by eye"},
    "listen to a relay": {FaultClass.RELAY_STUCK: "relay"},
    "relay contacts": {FaultClass.RELAY_STUCK: "relay", FaultClass.STUCK_ON: "relay"},
    "transistor": {FaultClass.OPEN: "driver open", FaultClass.STUCK_ON: "driver shorted"},
    "part across": {FaultClass.OPEN: "part"},
    "unplug and try again": {FaultClass.GROUNDED: "wire"},
    "unplug and look": {FaultClass.STUCK_ON: "chip by probe"},
    "board pin in test mode": {FaultClass.OPEN: "chip by probe", FaultClass.STUCK_ON: "chip by probe"},
    "logic probe": {FaultClass.OPEN: "chip by probe", FaultClass.STUCK_ON: "chip by probe"},
    "swap like chips": {FaultClass.OPEN: "chip swapped"},
}
"""What each kind of check can see, by its name in `checks.toml`."""
_AT_PART: Mapping[str, Sequence[str]] = {
    "connector": ("look at a plug",),
    "contact": ("contact",),
    "fuse": ("fuse out",),
    "relay": ("relay contacts",),
    "transistor": ("transistor",),
    "integrated circuit": ("logic probe",),
}
_AT_LINE = ("first wire", "across the break")
_AT_CELL: Mapping[str, Sequence[str]] = {
    "switch": ("device across its lugs", "diode", "look at a diode"),
    "lamp": ("device across its lugs", "swap a bulb", "diode", "look at a diode"),
    "flash lamp": ("device across its lugs", "swap a bulb", "diode", "look at a diode"),
    "coil": ("device across its lugs", "diode", "look at a diode"),
}
"""What is looked at where a finding doesn't name its check, by the kind of its place."""


def updated_priors(
    layout: Layout, pool: Iterable[Candidate], findings: Sequence[Finding], rates: Rates | None = None
) -> tuple[Candidate, ...]:
    """Return the candidates with their rates moved by the findings, one after the other.

    `rates`: those with the shares that checks leave over, the shipped ones where none are given. Of findings of one
    check at one place the last one counts.
    """
    shares = (rates or shipped_rates()).check
    moved = list(pool)
    for finding in {(one.place, one.check): one for one in findings}.values():
        site = _Site(layout, finding.place)
        left = {
            at: share for at, each in enumerate(moved) if (share := _leaves(site, finding, each, shares)) is not None
        }
        if finding.verdict == "faulty":
            seen = {at: moved[at].rate * (1 - share) for at, share in left.items()}
            total = sum(seen.values())
            for at, weight in seen.items():
                share = (1 - shares["wrongly faulty"]) * weight / total if total else 0.0
                moved[at] = moved[at]._replace(rate=max(moved[at].rate, share))
        else:
            for at, share in left.items():
                rate = moved[at].rate
                moved[at] = moved[at]._replace(rate=rate * share / (1 - rate + rate * share))
    return tuple(moved)


def guard_check(name: str) -> None:
    """Raise UsageError unless there is a kind of check of that name."""
    if name not in CHECKS:
        meant = nearest(name, CHECKS)
        hint = f"did you mean '{meant}'?" if meant else f"the kinds are {', '.join(CHECKS)}"
        raise UsageError(f"no kind of check is called {shown(name)}", hint)


class _Site:
    """A place of a layout: a part, a line or a cell."""

    def __init__(self, layout: Layout, place: str) -> None:
        first = layout.matrices[0].id if layout.matrices else ""
        self.layout = layout
        self.place = place
        self.line = parse_line(place, first)
        self.cell = None if self.line else parse_cell(place, first)

    def holds(self, candidate: Candidate) -> bool:
        """Return whether a fault sits there; a plug holds its contacts, a chip its pins, a line its wire."""
        if self.line is not None:
            return candidate.part is None and self.line in candidate.lines
        if self.cell is not None:
            is_own = TRAITS[candidate.fault_class].site is Site.CELL
            return is_own and not candidate.lines and self.cell in candidate.cells
        parts = [candidate.part, candidate.other] if candidate.part is not None else []
        return any(isinstance(part, str) and self.place in (part, owner(part)) for part in parts)

    @property
    def checks(self) -> Sequence[str]:
        """Return what is looked at there where nobody says."""
        if self.line is not None:
            return _AT_LINE
        if self.cell is not None:
            cell = self.layout.matrix(self.cell.matrix).by_key.get(self.cell)
            return _AT_CELL[cell.device] if cell else ()
        kind = part_class(self.place)
        return _AT_PART.get(
            "contact" if kind == "connector" and owner(self.place) != self.place else kind, ("part across",)
        )


def _leaves(site: _Site, finding: Finding, candidate: Candidate, shares: Mapping[str, float]) -> float | None:
    """Return the share of its odds that a fault keeps where a finding calls it good; None where it isn't seen."""
    if not site.holds(candidate):
        return None
    if finding.verdict == "replaced":
        left = shares["replaced"]
    else:
        names = [finding.check] if finding.check else site.checks
        known = [CHECKS.get(name, {}) for name in names]
        judged = [seen[candidate.fault_class] for seen in known if candidate.fault_class in seen]
        if not judged:
            return None
        left = min(shares[name] for name in judged)
    if site.line is not None and candidate.fault_class is FaultClass.OPEN:
        return 1 - (1 - left) / _unnamed(site.layout, site.line)
    return left


def _unnamed(layout: Layout, line: LineKey) -> int:
    """Count what a line open at its start may mean: its first wire, and its driver and its contact where none is named.

    A look at the wire says nothing of the others.
    """
    matrix, kinds = layout.matrix(line.matrix), {part_class(ref) for ref in layout.line(line).path}
    driven = matrix.rows_shared and layout.line(line).select is None
    return 1 + (driven and not kinds & {"transistor", "integrated circuit"}) + ("connector" not in kinds)
