"""What each class of fault does: one table, and the sets of classes that follow from it.

A new class gets its row here; the sets are queries on the table, in the order of `FaultClass`, so that nothing depends
on the order of a set.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from types import MappingProxyType

from matrixcheck.diagnosis.result import FaultClass

FaultClasses = tuple[FaultClass, ...]


class Site(Enum):
    """Where a fault sits."""

    LOGIC_END = auto()
    """Where a line begins: if its wire is crossed with another one, the fault comes out on that one."""
    WIRE = auto()
    """On a line's whole wire: it stays there where wires are crossed."""
    CHAIN = auto()
    """Between two cells of a line: it takes hold of those beyond."""
    CELL = auto()
    """In one cell: private to it, with no line of its own."""
    BANK = auto()
    """In a whole matrix, on none of its lines."""


@dataclass(frozen=True, slots=True)
class Traits:
    """What a class of fault does.

    silences: its cells don't answer. lights: more shows than should, in any kind of matrix, whatever was commanded.
    holds_line: its line conducts all the time. displaces: other cells answer, or other faults come out elsewhere.
    in_diode: there only where cells have diodes. odd_diode: the diode passes current the wrong way, so that others lead
    through the cell. between_two: it joins or swaps two lines of one side. misplaces_plug: a whole plug meets other
    pins than its own. comes_and_goes: it may be loose; an open may too, by what part it sits in. is_supply: inputs of
    12 V read closed without it, and aren't silent. by_ohms: only a measured resistance shows it. part_kind: the kind of
    part that it is a fault of, where it is of one kind only.
    """

    site: Site
    silences: bool = False
    lights: bool = False
    holds_line: bool = False
    displaces: bool = False
    in_diode: bool = False
    odd_diode: bool = False
    between_two: bool = False
    misplaces_plug: bool = False
    comes_and_goes: bool = False
    is_supply: bool = False
    by_ohms: bool = False
    part_kind: str | None = None


TRAITS: Mapping[FaultClass, Traits] = MappingProxyType(
    {
        FaultClass.OPEN: Traits(Site.LOGIC_END, silences=True),
        FaultClass.UNPLUGGED: Traits(Site.LOGIC_END, silences=True, comes_and_goes=True, part_kind="connector"),
        FaultClass.BREAK: Traits(Site.CHAIN, silences=True, comes_and_goes=True),
        FaultClass.STUCK_ON: Traits(Site.LOGIC_END, lights=True, holds_line=True),
        FaultClass.GROUNDED: Traits(Site.WIRE, holds_line=True),
        FaultClass.SHORTED_TOGETHER: Traits(Site.WIRE, displaces=True, between_two=True),
        FaultClass.CROSSED: Traits(Site.WIRE, displaces=True, between_two=True),
        FaultClass.PLUGS_SWAPPED: Traits(Site.LOGIC_END, displaces=True, misplaces_plug=True),
        FaultClass.PLUG_SHIFTED: Traits(Site.LOGIC_END, displaces=True, misplaces_plug=True),
        FaultClass.DEVICE_DEAD: Traits(Site.CELL, silences=True, comes_and_goes=True),
        FaultClass.DEVICE_STUCK: Traits(Site.CELL, lights=True),
        FaultClass.DIODE_OPEN: Traits(Site.CELL, silences=True, in_diode=True),
        FaultClass.DIODE_SHORTED: Traits(Site.CELL, lights=True, in_diode=True, odd_diode=True),
        FaultClass.DIODE_REVERSED: Traits(Site.CELL, silences=True, in_diode=True, odd_diode=True),
        FaultClass.RELAY_STUCK: Traits(Site.LOGIC_END, displaces=True, part_kind="relay"),
        FaultClass.FUSE_BLOWN: Traits(Site.LOGIC_END, silences=True, is_supply=True, part_kind="fuse"),
        FaultClass.KEEP_WARM_GLOW: Traits(Site.BANK),
        FaultClass.WRONG_DEVICE: Traits(Site.CELL, by_ohms=True),
    }
)


def classes(has: Callable[[Traits], bool]) -> FaultClasses:
    """List the classes whose traits pass the test, in the order of `FaultClass`."""
    return tuple(each for each in FaultClass if has(TRAITS[each]))


OF_CELLS = classes(lambda one: one.site is Site.CELL)
OF_BANKS = classes(lambda one: one.site is Site.BANK)
PRIVATE = classes(lambda one: one.site is Site.CELL and not one.by_ohms)
"""What every cell may have as a cause of its own, and what readings can show."""
IN_DEVICES = classes(lambda one: one.site is Site.CELL and not one.by_ohms and not one.in_diode)
ODD_DIODE = classes(lambda one: one.odd_diode)

SILENCING = classes(lambda one: one.silences)
DARKENING = classes(lambda one: one.silences and not one.odd_diode)
"""What only silences: through a reversed diode others show besides."""
SILENCING_LINES = classes(lambda one: one.silences and one.site is not Site.CELL)
DEAD_CELL = classes(lambda one: one.silences and one.site is Site.CELL)
SILENCED_CELLS = classes(lambda one: one.silences and not one.odd_diode and one.site is not Site.LOGIC_END)
"""What silences its own cells and nothing else, in any kind of matrix."""
PARTING = classes(lambda one: one.silences and one.site is Site.LOGIC_END)
"""What parts whole lines from what drives or senses them."""
KILLING = classes(lambda one: one.silences and one.site is not Site.LOGIC_END)
"""What makes single cells do nothing more."""
SILENT_UNFED = classes(lambda one: one.silences and not one.odd_diode and not one.is_supply)
"""What silences its cells even where a missing supply makes inputs read closed."""

LIGHTING = classes(lambda one: one.lights)
LASTING = classes(lambda one: one.holds_line)
"""What keeps a line on: what flows through other faults may drain into it."""
AT_ENDS = classes(lambda one: one.site is Site.LOGIC_END)
OF_WIRES = classes(lambda one: one.site is Site.WIRE)
BETWEEN_TWO = classes(lambda one: one.between_two)
MISPLACED_PLUGS = classes(lambda one: one.misplaces_plug)
DISPLACING = classes(lambda one: one.displaces)
COMES_AND_GOES = classes(lambda one: one.comes_and_goes)
"""What may be loose whatever its part: contacts, plugs, wires, switches and sockets may, drivers and diodes seldom are
(common practice, no source)."""
PART_KIND: Mapping[FaultClass, str] = MappingProxyType(
    {each: traits.part_kind for each, traits in TRAITS.items() if traits.part_kind is not None}
)


def private_classes(has_diodes: bool) -> FaultClasses:
    """List the classes of `PRIVATE` that a cell with or without a diode can have."""
    return with_or_without_diodes(PRIVATE, has_diodes)


def with_or_without_diodes(among: FaultClasses, has_diodes: bool) -> FaultClasses:
    """Leave out the classes that sit in diodes where there are none."""
    return tuple(each for each in among if has_diodes or not TRAITS[each].in_diode)
