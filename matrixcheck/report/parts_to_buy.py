"""Parts that the known faults call for: what, of which rating, how many, for where, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from matrixcheck.diagnosis.result import Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.places import part_words
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.wording import cell_words
from matrixcheck.report.answer.folding import shared_out

WORTH_BUYING = 0.05
"""Probability from which on a part stands in the list."""
SURE = 0.9
"""Probability from which on a part is bought without another check."""
DEVICES = {"switch": "switch", "lamp": "bulb", "flash lamp": "flash lamp bulb", "coil": "coil"}
DIODES = frozenset({FaultClass.DIODE_OPEN, FaultClass.DIODE_SHORTED, FaultClass.DIODE_REVERSED})
BOUGHT = {"transistor": "transistor", "integrated circuit": "chip", "fuse": "fuse", "relay": "relay"}
"""Kinds of part that are replaced whole; of the rest a wire or a contact is mended."""


class Needed(NamedTuple):
    """A part: its kind, its rating as the layout gives it ("" where it gives none), and where it goes."""

    kind: str
    rating: str
    place: str


class ToBuy(NamedTuple):
    """A line of the list: `places` are as many as parts are needed. `sure`: no check has to come first."""

    kind: str
    rating: str
    places: tuple[str, ...]
    sure: bool


def parts_to_buy(layout: Layout, suspects: Iterable[Suspect]) -> tuple[ToBuy, ...]:
    """Return the parts that these suspects call for: the sure ones first, one line for each kind and rating."""
    chances: dict[Needed, float] = {}
    for suspect in suspects:
        for fault, share in shared_out(suspect):
            for needed in _needed(layout, fault):
                chances[needed] = chances.get(needed, 0.0) + suspect.probability * share
    lines: dict[tuple[str, str, bool], list[str]] = {}
    for needed, chance in chances.items():
        if chance >= WORTH_BUYING:
            lines.setdefault((needed.kind, needed.rating, chance >= SURE), []).append(needed.place)
    found = [ToBuy(kind, rating, tuple(places), sure) for (kind, rating, sure), places in lines.items()]
    return tuple(sorted(found, key=lambda one: (not one.sure, one.kind, one.rating)))


def _needed(layout: Layout, fault: Fault) -> Iterator[Needed]:
    if fault.fault is FaultClass.KEEP_WARM_GLOW:
        return
    if fault.part is not None:
        whole = owner(fault.part)
        kind = BOUGHT.get(part_class(whole))
        if kind:
            part = layout.part_by_ref.get(whole)
            named = f"{part_words(whole)}, {part.name}" if part and part.name else part_words(whole)
            yield Needed(kind, part.rating if part else "", named)
    elif fault.cells and not fault.lines:
        cell = layout.cell(fault.cells[0])
        diode = fault.fault in DIODES
        yield Needed(
            "diode" if diode else DEVICES[cell.device], "" if diode else _rating(cell), cell_words(layout, cell.key)
        )


def _rating(cell: Cell) -> str:
    if cell.notes.ohms is not None:
        return f"{cell.notes.ohms:g} ohms"
    return {"led": "LED", "filament": "filament"}.get(cell.notes.fitted or "", "")
