"""How often each fault is met, and how often a reading is wrong, before anything was read: `priors.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Hashable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

from matrixcheck.diagnosis.machine.fault_classes import TRAITS, FaultClasses
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Cell, Layout, Matrix
from matrixcheck.layout.places import LineKey

Table = Mapping[str, float]


class ReadingRates(NamedTuple):
    """Chances of a wrong reading; see `priors.toml` for what each means."""

    wrong_mark: float
    wrong_answer: float
    wrongly_faint: float
    faint_taken_for_dead: float
    faint_taken_for_working: float
    false_echo: float
    missed_echo: float
    missed_glow: float
    false_glow: float
    false_glow_of_an_led: float
    glow_taken_for_light: float
    keep_warm_missed: float
    keep_warm_bright_among_faint: float
    keep_warm_faint_among_bright: float
    grounded_line_takes_its_fuse: float
    fuse_seen_to_go: float
    fuse_goes_by_itself: float
    loose_fault_there: float
    lighting_always_lit: float
    lighting_not_switched: float
    ohms_right: float


class Rates(NamedTuple):
    """Chances of each fault by where it sits, and of a wrong reading: one field a table of `priors.toml`.

    `cell[sort]`: by fault class, of switches, filament lamps, LEDs and coils. `check`: what checks leave over.
    `says`: what an answer by these rates says of them.
    """

    part: Table
    contact: Table
    plug: Table
    line: Table
    stuck_on: Table
    grounded: Table
    bank: Table
    cell: Mapping[str, Table]
    check: Table
    reading: ReadingRates
    says: str = ""

    @property
    def key(self) -> Hashable:
        """Return a key: rates with the same one are the same."""
        single = (self.part, self.contact, self.plug, self.line, self.stuck_on, self.grounded, self.bank, self.check)
        return (*(tuple(table.items()) for table in (*single, *self.cell.values())), self.reading)


def shipped_table() -> dict[str, Any]:
    """Return the data of the rates that come with the package, as tables of tables."""
    return tomllib.loads(files("matrixcheck.diagnosis.machine").joinpath("priors.toml").read_text("utf-8"))


@cache
def shipped_rates() -> Rates:
    """Return the rates that come with the package (common practice, no source)."""
    return rates_in(shipped_table())


def rates_in(data: Mapping[str, Any]) -> Rates:
    """Return rates from data that has every one of them."""
    reading = {_field(name): value for name, value in data["reading"].items()}
    tables = {_field(name): table for name, table in data.items() if name != "reading"}
    return Rates(**tables, reading=ReadingRates(**reading))


def _field(name: str) -> str:
    return name.replace(" ", "_").replace("-", "_").lower()


def part_rate(layout: Layout, ref: str, rates: Rates) -> float:
    """Return the chance that a part fails: the layout's own, else that of its kind."""
    known = layout.part_by_ref.get(ref)
    if known is not None and known.rate is not None:
        return known.rate
    table, kind = part_kind(layout, ref, rates)
    if table == "contact":
        return rates.contact[kind]
    return rates.part[kind] + (rates.part["relay drive"] if kind == "relay" else 0.0)


def part_kind(layout: Layout, ref: str, rates: Rates) -> tuple[str, str]:
    """Return the table and the name under which a part's rate stands.

    A contact goes by the hottest line through it; mid-loom where that is more and it joins two looms.
    """
    kind = part_class(ref)
    if owner(ref) == ref or kind not in ("connector", "integrated circuit"):
        return "part", kind if kind in rates.part else "other"
    if kind == "integrated circuit":
        return "part", "pin"
    lines = layout.lines_through[ref]
    found = [_feeds(layout.matrix(line.matrix)) for line in lines]
    if any(_is_mid_loom(layout, line, ref) for line in lines):
        found.append("mid-loom")
    return "contact", max(found, key=lambda name: rates.contact[name])


def _feeds(matrix: Matrix) -> str:
    return "lighting" if matrix.kind == "lamp" and not matrix.rows_shared else matrix.kind.value


def _is_mid_loom(layout: Layout, line: LineKey, ref: str) -> bool:
    """Return whether another plug stands nearer to the board on the line's path."""
    plugs = [owner(each) for each in layout.line(line).path if part_class(each) == "connector"]
    return owner(ref) in plugs[1:] and plugs[0] != owner(ref)


def stuck_rate(matrix: Matrix, line: LineKey, rates: Rates) -> float:
    """Return the chance that what drives or senses a line has failed short."""
    return rates.stuck_on[stuck_kind(matrix, line)]


def stuck_kind(matrix: Matrix, line: LineKey) -> str:
    """Return the name under which the rate of that stands."""
    if matrix.kind != "switch":
        return matrix.kind.value
    return "switch driver" if matrix.rows_shared and line.side == matrix.strobe else "switch input"


def cell_rates(cell: Cell, rates: Rates) -> Table:
    """Return the chances of the faults of one cell, by class."""
    return rates.cell[cell_sort(cell)]


def cell_sort(cell: Cell) -> str:
    """Return the sort of cell under which its rates stand."""
    if cell.device in ("lamp", "flash lamp"):
        return "led" if cell.notes.fitted == "led" else "filament"
    return cell.device


def private_rate(matrix: Matrix, cell: Cell, classes: FaultClasses, rates: Rates) -> float:
    """Return the chance that a cell has a fault of these classes; those of diodes where there are diodes."""
    chances = cell_rates(cell, rates)
    return sum(chances[one] for one in classes if matrix.has_diodes or not TRAITS[FaultClass(one)].in_diode)
