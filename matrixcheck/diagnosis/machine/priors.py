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
    kind = part_class(ref)
    if kind == "connector" and owner(ref) != ref:
        return _contact_rate(layout, ref, rates)
    if kind == "relay":
        return rates.part["relay"] + rates.part["relay drive"]
    if owner(ref) != ref:
        kind = {"integrated circuit": "pin"}.get(kind, kind)
    return rates.part.get(kind, rates.part["other"])


def _contact_rate(layout: Layout, ref: str, rates: Rates) -> float:
    """Return the chance that a contact fails: that of the hottest line through it, more where it joins two looms."""
    lines = layout.lines_through[ref]
    found = [rates.contact[_feeds(layout.matrix(line.matrix))] for line in lines]
    if any(_is_mid_loom(layout, line, ref) for line in lines):
        found.append(rates.contact["mid-loom"])
    return max(found)


def _feeds(matrix: Matrix) -> str:
    return "lighting" if matrix.kind == "lamp" and not matrix.rows_shared else matrix.kind.value


def _is_mid_loom(layout: Layout, line: LineKey, ref: str) -> bool:
    """Return whether another plug stands nearer to the board on the line's path."""
    plugs = [owner(each) for each in layout.line(line).path if part_class(each) == "connector"]
    return owner(ref) in plugs[1:] and plugs[0] != owner(ref)


def stuck_rate(matrix: Matrix, line: LineKey, rates: Rates) -> float:
    """Return the chance that what drives or senses a line has failed short."""
    if matrix.kind != "switch":
        return rates.stuck_on[matrix.kind.value]
    return rates.stuck_on["switch driver" if matrix.rows_shared and line.side == matrix.strobe else "switch input"]


def cell_rates(cell: Cell, rates: Rates) -> Table:
    """Return the chances of the faults of one cell, by class."""
    if cell.device in ("lamp", "flash lamp"):
        return rates.cell["led" if cell.notes.fitted == "led" else "filament"]
    return rates.cell[cell.device]


def private_rate(matrix: Matrix, cell: Cell, classes: FaultClasses, rates: Rates) -> float:
    """Return the chance that a cell has a fault of these classes; those of diodes where there are diodes."""
    chances = cell_rates(cell, rates)
    return sum(chances[one] for one in classes if matrix.has_diodes or not TRAITS[FaultClass(one)].in_diode)
