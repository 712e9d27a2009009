"""Describe one bench check before it is weighed, and word the ends of a measurement."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from matrixcheck.diagnosis.advice.bench_checks.cautions import Hazard
from matrixcheck.diagnosis.advice.bench_checks.codes import Place
from matrixcheck.diagnosis.result import Fault, Limits
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.wires import colour_words
from matrixcheck.layout.wording import cell_words, either, line_words, lines_words

ZERO_OHMS, OPEN_OHMS = 1.0, 10_000.0
"""Up to so many ohms above the leads is about zero, from so many on is open (common practice, no source)."""

ABOUT_ZERO = "about zero: up to 1 ohm above the leads"
STEADY = f"{ABOUT_ZERO}, steady while you move the wire"
OPEN = "open: OL, or over 10 kilohms"
JUMPS = "open, or a reading that jumps"
LOOSE = "over 1 ohm above the leads, or a reading that jumps"
GROUND = "ground: that of the board, then a bare rail of the frame"

WHOLE = Limits(unit="ohms", good=(0, ZERO_OHMS), faulty=((OPEN_OHMS, None),))
TIGHT = Limits(unit="ohms", good=(0, ZERO_OHMS), faulty=((ZERO_OHMS, None),))
APART = Limits(unit="ohms", good=(OPEN_OHMS, None), faulty=((0, ZERO_OHMS),))

Setup = Literal["", "playfield up", "board out"]


class Step(NamedTuple):
    """Describe a check.

    `kind`: its line in `checks.toml`. `test` and `at`: what its code is made of. `prepare`: the sentences before `do`
    that pull `plugs` or set up; what comes before "Switch on" in it is done with the power off. `good`: what a good
    part shows; `faulty`: what is seen if the members in `confirms` are the fault, with `harmless` it is `good` that
    confirms them. `decides`: its outcomes name one member each, so that it parts them though it sees all.
    """

    kind: str
    test: str
    at: tuple[Place, ...]
    short: str
    do: str
    points: tuple[str, str]
    good: str
    faulty: str
    confirms: tuple[Fault, ...]
    hazard: Hazard
    prepare: str = ""
    between: str = ""
    then: str = ""
    power: bool = False
    setup: Setup = ""
    plugs: tuple[str, ...] = ()
    limits: Limits | None = None
    decides: bool = False
    harmless: bool = False


def contact_of(layout: Layout, key: LineKey) -> str | None:
    """Return the plug contact at the board on a line's path, as `X5-3`; None where the layout gives none.

    A plug further out would leave a stretch of the wire unmeasured, and a short on it with the board.
    """
    found = [ref for ref in layout.line(key).path if part_class(ref) == "connector"]
    return found[0] if found else None


def plugs_of(layout: Layout, *keys: LineKey) -> tuple[str, ...]:
    """List the plugs at the board of lines, each once."""
    contacts = [contact for key in keys if (contact := contact_of(layout, key))]
    return tuple(dict.fromkeys(owner(contact) for contact in contacts))


def pull(layout: Layout, *keys: LineKey) -> str:
    """Word how to free the wires of lines from their boards, as a sentence."""
    plugs = plugs_of(layout, *keys)
    unknown = [key for key in keys if not contact_of(layout, key)]
    said = [f"{'plug' if len(plugs) == 1 else 'plugs'} {either(plugs, 'and', most=len(plugs))}"] if plugs else []
    if unknown:
        said.append(f"the plug of {lines_words(layout, unknown)} at the board")
    return f"Pull {' and '.join(said)}."


def pull_live(layout: Layout, *keys: LineKey) -> str:
    """Word how to free wires with the power off, and what else runs through their plugs, for a test with it on."""
    return f"Switch off. {pull(layout, *keys)}{also_carries(layout, *keys)}"


def also_carries(layout: Layout, *keys: LineKey) -> str:
    """Word what else runs through the plugs of lines, in a sentence; empty where they carry no other line."""
    said = []
    for plug in plugs_of(layout, *keys):
        others = [line for line in layout.lines_through.get(plug, ()) if line not in keys]
        said += [f" {plug} also carries {lines_words(layout, others)}."] if others else []
    return "".join(said)


def quiet(layout: Layout, *keys: LineKey) -> str:
    """Word what to open or take out so that no device joins lines' wires to others, as a sentence; empty if none."""
    matrix, which = layout.matrix(keys[0].matrix), "both lines" if len(keys) > 1 else "the line"
    if matrix.kind is Kind.SWITCH:
        closed = any(cell.notes.rest == "closed" for key in keys for cell in matrix.cells_of(key))
        return f" Open every switch of {which}{', also those that rest closed' if closed else ''}."
    if matrix.kind is Kind.LAMP and not matrix.has_diodes:
        return f" Take all bulbs of {which} out."
    if matrix.kind is Kind.COIL and not matrix.has_diodes:
        return f" Take the flash lamps of {which} out."
    return ""


def is_fed(layout: Layout, key: LineKey) -> bool:
    """Return whether a line takes the supply to lamps or coils; else its driver pulls it to ground."""
    return layout.matrix(key.matrix).kind is not Kind.SWITCH and key.side == "column"


def is_string(layout: Layout, key: LineKey) -> bool:
    """Return whether a line is a lighting string, whose lamps return to ground by themselves."""
    matrix = layout.matrix(key.matrix)
    return matrix.kind is Kind.LAMP and not matrix.rows_shared


def is_sensed(layout: Layout, key: LineKey) -> bool:
    """Return whether the line is an input of a switch matrix."""
    matrix = layout.matrix(key.matrix)
    return matrix.kind is Kind.SWITCH and (key.side != matrix.strobe or not matrix.rows_shared)


def wire(layout: Layout, key: LineKey) -> str:
    """Word a line's wire by its colours: "the green-brown wire of switch column 3"."""
    colours = layout.line(key).wire
    return f"the {colour_words(colours) + ' ' if colours else ''}wire of {line_words(layout, key)}"


def behind(layout: Layout, key: LineKey) -> str:
    """Word the loom's end of a line's wire once its plug is off."""
    contact = contact_of(layout, key)
    return f"contact {contact} from the wire side: {wire(layout, key)}" if contact else wire(layout, key)


def board_pin(layout: Layout, key: LineKey) -> str:
    """Word the pin of the board that a line begins at."""
    return f"board pin {contact_of(layout, key) or f'of {line_words(layout, key)}'}"


def lug(layout: Layout, key: LineKey, cell: CellKey) -> str:
    """Word the lug of a device at which a line's wire arrives."""
    return f"the {key.side} lug of {cell_words(layout, cell)}"


def first_lug(layout: Layout, key: LineKey) -> str:
    """Word the lug of the first device that the wire reaches, by the line where its chain is unknown."""
    cells = layout.matrix(key.matrix).cells_of(key)
    if not cells or (layout.line(key).chain is None and len(cells) > 1):
        return f"the first device that {wire(layout, key)} reaches"
    return f"{lug(layout, key, cells[0].key)}, where {wire(layout, key)} arrives"


def kind_of(layout: Layout, fault: Fault) -> Kind:
    """Return what sits on a fault's lines or cells: coils where any of them does, for the sake of the cautions."""
    kinds = {layout.matrix(cell.matrix).kind for cell in fault.cells}
    kinds |= {layout.matrix(line.matrix).kind for line in fault.lines}
    return next(kind for kind in (Kind.COIL, Kind.LAMP, Kind.SWITCH) if kind in kinds)


def setup_at(layout: Layout, cells: Sequence[CellKey]) -> Setup:
    """Return what must be opened to reach the lugs of devices: the playfield, unless the layout has another way."""
    ways = {layout.cell(cell).notes.reach for cell in cells}
    elsewhere = bool(ways) and ways.isdisjoint({"", "ball", "glass off", "playfield up"})
    return "" if elsewhere else "playfield up"


def setup_of(layout: Layout, key: LineKey) -> Setup:
    """Return what must be opened to reach the devices of a line."""
    return setup_at(layout, [cell.key for cell in layout.matrix(key.matrix).cells_of(key)[:1]])


def placed(layout: Layout, ref: str) -> str:
    """Word a designator with the place where the layout says it sits."""
    part = layout.part_by_ref.get(ref)
    return f"{ref} ({part.place})" if part and part.place else ref


def sentence(text: str) -> str:
    """Return a text with a capital first and one full stop at its end."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
