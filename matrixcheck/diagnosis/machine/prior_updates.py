"""What bench checks and repairs found, as evidence on sets of candidates.

A check looks at a place for faults of some classes. Found good, all that it can see there are good, but for the share
that such a check leaves over; found faulty, one of these is faulty, which of them goes by their rates. What a check
can't see keeps its rate. The shares stand under `[check]` in `priors.toml`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import TRAITS, Site
from matrixcheck.diagnosis.machine.fault_keys import fault_key
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

_ON_BOARD: Sees = {FaultClass.OPEN: "chip by probe", FaultClass.STUCK_ON: "chip by probe"}

CHECKS: Mapping[str, Sees] = {
    "look at a plug": {
        FaultClass.UNPLUGGED: "plug",
        FaultClass.PLUGS_SWAPPED: "plug",
        FaultClass.PLUG_SHIFTED: "plug",
        FaultClass.OPEN: "contacts of a plug",
    },
    "reseat and tug": {FaultClass.OPEN: "contacts of a plug"},
    "contact": {FaultClass.OPEN: "contact"},
    "header joints": {FaultClass.OPEN: "contacts of a plug"},
    "fuse out": {FaultClass.FUSE_BLOWN: "fuse"},
    "rails and fuses": {FaultClass.FUSE_BLOWN: "fuse by volts"},
    "behind a fuse": {FaultClass.GROUNDED: "wire"},
    "transistor": {FaultClass.OPEN: "driver open", FaultClass.STUCK_ON: "driver shorted"},
    "shorted driver": {FaultClass.STUCK_ON: "driver shorted"},
    "before a new driver": {},
    "logic probe": _ON_BOARD,
    "logic probe at a coil latch": _ON_BOARD,
    "input pin": _ON_BOARD,
    "whole chip": _ON_BOARD,
    "swap like chips": {FaultClass.OPEN: "chip swapped"},
    "part across": {FaultClass.OPEN: "part"},
    "listen to a relay": {FaultClass.RELAY_STUCK: "relay"},
    "relay contacts": {FaultClass.RELAY_STUCK: "relay", FaultClass.STUCK_ON: "relay"},
    "unplug and look": {FaultClass.STUCK_ON: "chip by probe"},
    "string commanded off": {FaultClass.STUCK_ON: "chip by probe"},
    "board pin in test mode": _ON_BOARD,
    "bridge an input": {FaultClass.OPEN: "chip by probe"},
    "swap like plugs": {FaultClass.OPEN: "chip by probe"},
    "compare with neighbours": {FaultClass.OPEN: "chip by probe"},
    "unplug and try again": {FaultClass.GROUNDED: "wire"},
    "volts along a coil": {
        FaultClass.OPEN: "coil volts",
        FaultClass.DEVICE_DEAD: "coil volts",
        FaultClass.DIODE_OPEN: "coil volts",
    },
    "move a wire": {FaultClass.OPEN: "coil volts"},
    "first wire": {FaultClass.OPEN: "wire"},
    "across the break": {FaultClass.BREAK: "wire"},
    "volts along a string": {FaultClass.BREAK: "wire"},
    "wire to ground": {FaultClass.GROUNDED: "wire"},
    "string to ground": {FaultClass.GROUNDED: "wire"},
    "two wires": {FaultClass.SHORTED_TOGETHER: "wire"},
    "two strings": {FaultClass.SHORTED_TOGETHER: "wire"},
    "wire colours": {FaultClass.CROSSED: "colours"},
    "wire to the other line": {FaultClass.CROSSED: "wire"},
    "switch contacts": {
        FaultClass.DEVICE_DEAD: "device",
        FaultClass.DIODE_OPEN: "diode",
        FaultClass.DIODE_SHORTED: "diode",
        FaultClass.DIODE_REVERSED: "diode",
    },
    "bridge a switch": {FaultClass.DEVICE_DEAD: "device"},
    "light beam": {FaultClass.DEVICE_DEAD: "device", FaultClass.DEVICE_STUCK: "device"},
    "stuck switch": {FaultClass.DEVICE_STUCK: "device"},
    "swap a bulb": {FaultClass.DEVICE_DEAD: "bulb swapped"},
    "swap an LED": {FaultClass.KEEP_WARM_GLOW: "bulb swapped"},
    "swap a ghosting LED": {FaultClass.DIODE_SHORTED: "bulb swapped"},
    "volts at a lug": {FaultClass.DEVICE_STUCK: "device"},
    "wire off": {FaultClass.DEVICE_STUCK: "device"},
    "wire off a coil": {FaultClass.DEVICE_STUCK: "device"},
    "device across its lugs": {FaultClass.DEVICE_DEAD: "device", FaultClass.DEVICE_STUCK: "device"},
    "coil, a lead off": {FaultClass.DEVICE_DEAD: "device"},
    "coil value": {FaultClass.WRONG_DEVICE: "device"},
    "diode": {FaultClass.DIODE_OPEN: "diode", FaultClass.DIODE_SHORTED: "diode"},
    "diode, leg lifted": {FaultClass.DIODE_OPEN: "diode lifted", FaultClass.DIODE_SHORTED: "diode lifted"},
    "look at a diode": {FaultClass.DIODE_REVERSED: "diode by eye"},
}
"""What each kind of check can see, by its name in `checks.toml`."""

HARMLESS = frozenset({"swap an LED"})
"""Kinds of check whose good result confirms what they look for: it is no fault."""

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
    for finding in {(one.code or one.place, one.check): one for one in findings}.values():
        left = _left_by(layout, finding, moved, shares)
        if (finding.verdict == "faulty") is not (finding.check in HARMLESS):
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


def _left_by(
    layout: Layout, finding: Finding, pool: Sequence[Candidate], shares: Mapping[str, float]
) -> dict[int, float]:
    """Return the share of its odds that each candidate keeps which a finding sees, by its index."""
    if finding.verdict == "between":
        return {}
    if finding.faults:
        return _left_by_key(layout, finding, pool, shares)
    site = _Site(layout, finding.place)
    return {at: share for at, each in enumerate(pool) if (share := _leaves(site, finding, each, shares)) is not None}


def _left_by_key(
    layout: Layout, finding: Finding, pool: Sequence[Candidate], shares: Mapping[str, float]
) -> dict[int, float]:
    """Return the shares where a check keeps the keys of what it sees."""
    keys = frozenset(finding.faults)
    classes = {key.partition(":")[0] for key in keys}
    seen = CHECKS.get(finding.check, {})
    found: dict[int, float] = {}
    for at, each in enumerate(pool):
        if each.fault_class.value not in classes or each.fault_class not in seen:
            continue
        if fault_key(layout, each) in keys:
            left = shares[seen[each.fault_class]]
            own = each.fault_class is FaultClass.OPEN and each.part is None
            found[at] = _of_a_line(layout, each.lines[0], left) if own else left
    return found


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
        return _of_a_line(site.layout, site.line, left)
    return left


def _of_a_line(layout: Layout, line: LineKey, left: float) -> float:
    """Return the share that an open line keeps where one look sees only one of what its start may mean."""
    return 1 - (1 - left) / _unnamed(layout, line)


def _unnamed(layout: Layout, line: LineKey) -> int:
    """Count what a line open at its start may mean: its first wire, and its driver and its contact where none is named.

    A look at the wire says nothing of the others.
    """
    matrix, kinds = layout.matrix(line.matrix), {part_class(ref) for ref in layout.line(line).path}
    driven = matrix.rows_shared and layout.line(line).select is None
    return 1 + (driven and not kinds & {"transistor", "integrated circuit"}) + ("connector" not in kinds)
