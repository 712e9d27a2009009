"""Faults as a person types them, `FAULT:WHERE`: `open:Q3`, `break:switches.c3:2`, `diode-shorted:switches.r2c3`.

Where is a part, a line, two lines, or a cell by address or number. A break says how many cells come before it, or names
the cells beyond it where the chain is unknown (`break:switches.c3:r4c3+r5c3`). A relay may say the position in which it
is stuck (`relay-stuck:K1:pulled`); without one it is stuck at rest, as a relay is that doesn't pull in. Two plugs in
each other's place are `plugs-swapped:X1:X2`; a plug that sits one pin too high is `plug-shifted:X6:1`, one too low
`plug-shifted:X6:-1`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import Literal

from matrixcheck.diagnosis.machine.candidates import driver_of
from matrixcheck.diagnosis.machine.fault_classes import BETWEEN_TWO, MISPLACED_PLUGS, OF_CELLS, PART_KIND
from matrixcheck.diagnosis.machine.keep_warm import glow_faults
from matrixcheck.diagnosis.machine.plugs import SHIFTS, like_plugs, lines_of_plugs, shiftable_plugs
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.errors import UsageError
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.limits import whole_number
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.numbering import parse_number
from matrixcheck.layout.places import CellKey, LineKey, parse_cell, parse_line
from matrixcheck.layout.problems import nearest, shown

LONGEST = 2000
"""Characters that a fault may take: enough to name every cell of the longest line."""


def fault_at(
    layout: Layout,
    fault_class: FaultClass,
    *,
    part: str | None = None,
    line: LineKey | None = None,
    other: LineKey | str | None = None,
    after: int | None = None,
    cells: Sequence[CellKey] = (),
    when: Literal["rest", "pulled"] | None = None,
) -> Fault:
    """Name the fault of that class at a part, two plugs, a line, two lines or cells.

    A part takes hold of every line through it, a relay of the columns that it selects, if any. A break is given by
    `after`, the count of cells before it, or by the `cells` beyond it. Cells are taken by number where the chain is
    unknown.
    """
    if fault_class in MISPLACED_PLUGS:
        lines: tuple[LineKey, ...] = lines_of_plugs(layout, *(str(plug) for plug in (part, other) if plug))
    elif line is not None:
        lines = (line, other) if isinstance(other, LineKey) else (line,)
    elif part is not None:
        lines = layout.lines_through[part]
    else:
        lines = ()
    match fault_class:
        case FaultClass.RELAY_STUCK:
            lines = tuple(key for key in lines if layout.line(key).select == part) or lines
        case FaultClass.BREAK if line is not None:
            return _break_at(layout, line, after, cells)
        case FaultClass.STUCK_ON if line is not None:
            part = part or driver_of(layout.line(line))
    held = tuple(sorted(cells)) or cells_on(layout, lines)
    return Fault(fault=fault_class, part=part, lines=lines, cells=held, after=after, other=other, when=when)


def cells_on(layout: Layout, lines: Collection[LineKey]) -> tuple[CellKey, ...]:
    """List the fitted cells of the lines, by place."""
    return tuple(sorted({cell.key for line in lines for cell in layout.matrix(line.matrix).cells_of(line)}))


def _break_at(layout: Layout, line: LineKey, after: int | None, cells: Sequence[CellKey]) -> Fault:
    order = [cell.key for cell in layout.matrix(line.matrix).cells_of(line)]
    before = len(order) - len(cells) if after is None else after
    lost = cells or order[before:]
    return Fault(fault=FaultClass.BREAK, lines=(line,), cells=tuple(sorted(lost)), after=before)


def parse_fault(text: str, layout: Layout) -> Fault:
    """Return the fault that the text names, with its lines and cells in the layout.

    Raises UsageError where the text names no fault, or a place that the layout doesn't have.
    """
    if len(text) > LONGEST:
        raise UsageError(f"'{text[:40]}...' is no fault", "write FAULT:WHERE, as in open:Q3")
    name, _, where = text.strip().partition(":")
    fault_class = _fault_class(name)
    places = where.split(":") if where else []
    if fault_class in OF_CELLS:
        (place,) = _places(text, places, 1, "a cell, as in switches.r2c3 or switches.19")
        return fault_at(layout, fault_class, cells=(_cell(text, place, layout),))
    if fault_class in BETWEEN_TWO:
        return _pair(text, fault_class, places, layout)
    if fault_class in PART_KIND:
        return _whole_part(text, fault_class, places, layout)
    if fault_class in _PARSERS:
        return _PARSERS[fault_class](text, places, layout)
    (place,) = _places(text, places, 1, "one place")
    if fault_class is FaultClass.KEEP_WARM_GLOW:
        return _glow(text, place, layout)
    return _on_line_or_part(text, fault_class, place, layout)


def format_fault(fault: Fault, layout: Layout) -> str:
    """Write the text that `parse_fault` turns into this fault again."""
    name = str(fault.fault)
    if fault.fault is FaultClass.BREAK:
        by_count = fault_at(layout, fault.fault, line=fault.lines[0], after=fault.after)
        beyond = str(fault.after) if by_count.cells == fault.cells else "+".join(cell.address for cell in fault.cells)
        return f"{name}:{fault.lines[0]}:{beyond}"
    if fault.fault in BETWEEN_TWO:
        return f"{name}:{fault.lines[0]}:{fault.other}"
    if fault.fault is FaultClass.RELAY_STUCK or fault.fault in MISPLACED_PLUGS:
        return f"{name}:{fault.part}:{fault.when or fault.other or fault.after}"
    if fault.fault is FaultClass.STUCK_ON or (fault.part is None and fault.lines):
        return f"{name}:{fault.lines[0]}"
    if fault.part is not None:
        return f"{name}:{fault.part}"
    return f"{name}:{'+'.join(str(cell) for cell in fault.cells)}"


def _fault_class(name: str) -> FaultClass:
    try:
        return FaultClass(name)
    except ValueError:
        meant = nearest(name, FaultClass)
        known = f"the faults are {', '.join(FaultClass)}; write one as in open:Q3 or break:switches.c3:2"
        advice = f"did you mean '{meant}'? {known[:1].upper()}{known[1:]}" if meant else known
        raise UsageError(f"no fault is called {shown(name)}", advice) from None


def _places(text: str, places: list[str], count: int, wanted: str) -> list[str]:
    if len(places) != count or not all(places):
        raise UsageError(f"'{text}' doesn't say where", f"give {wanted} after the fault and a colon")
    return places


def _pair(text: str, fault_class: FaultClass, places: list[str], layout: Layout) -> Fault:
    first, second = _places(text, places, 2, "two lines, as in switches.r1:switches.r2")
    line = _line(text, first, layout)
    other = _line(text, second, layout, line.matrix)
    if (line.matrix, line.side) != (other.matrix, other.side) or line == other:
        raise UsageError(f"'{text}' names no two lines of one side", "give two rows or two columns of one matrix")
    line, other = sorted((line, other))
    return fault_at(layout, fault_class, line=line, other=other)


def _swapped(text: str, places: list[str], layout: Layout) -> Fault:
    pairs = like_plugs(layout)
    if not places or not all(places):
        raise UsageError(f"'{text}' doesn't say where", "give two like plugs, as in plugs-swapped:X1:X2")
    plugs = [_part(text, place, layout) for place in places]
    pair = next((pair for pair in pairs if set(pair) == set(plugs)), None)
    if len(plugs) != 2 or pair is None:
        known = f"the like plugs are {', '.join(' and '.join(each) for each in pairs[:6])}" if pairs else ""
        raise UsageError(
            f"'{text}' names no two like plugs: the same contacts, with the same kind of line at each",
            known or "the layout has no two like plugs",
        )
    return fault_at(layout, FaultClass.PLUGS_SWAPPED, part=pair[0], other=pair[1])


def _shifted(text: str, places: list[str], layout: Layout) -> Fault:
    part, step = _places(text, places, 2, "a plug, and 1 or -1 for one pin too high or too low, as in X6:1")
    plug = _part(text, part, layout)
    known = shiftable_plugs(layout)
    if plug not in known:
        raise UsageError(f"'{text}': {plug} is not a plug with numbered contacts", _nearest_of(plug, known))
    steps = {str(each): each for each in SHIFTS} | {f"+{SHIFTS[0]}": SHIFTS[0]}
    if step not in steps:
        raise UsageError(f"'{text}' doesn't say which way", f"write plug-shifted:{plug}:1 or :-1")
    return fault_at(layout, FaultClass.PLUG_SHIFTED, part=plug, after=steps[step])


def _whole_part(text: str, fault_class: FaultClass, places: list[str], layout: Layout) -> Fault:
    kind = PART_KIND[fault_class]
    if not places:
        raise UsageError(f"'{text}' doesn't say where", f"give the designator of a {kind} after the colon")
    ref = _part(text, places[0], layout)
    if part_class(ref) != kind or owner(ref) != ref:
        known = [each for each in layout.lines_through if part_class(each) == kind and owner(each) == each]
        raise UsageError(f"'{text}': {ref} is not a {kind}", _nearest_of(ref, known))
    if fault_class is not FaultClass.RELAY_STUCK:
        _places(text, places, 1, f"one {kind}")
        return fault_at(layout, fault_class, part=ref)
    when = places[1] if len(places) == 2 else "rest"
    if len(places) > 2 or when not in ("rest", "pulled"):
        raise UsageError(f"'{text}' names no position of a relay", f"write relay-stuck:{ref}:rest or :pulled")
    position: Literal["rest", "pulled"] = "pulled" if when == "pulled" else "rest"
    return fault_at(layout, fault_class, part=ref, when=position)


def _break(text: str, places: list[str], layout: Layout) -> Fault:
    where, beyond = _places(text, places, 2, "a line and the count of cells before the break, as in switches.c3:2")
    line = _line(text, where, layout)
    own = [cell.key for cell in layout.matrix(line.matrix).cells_of(line)]
    if beyond.isdecimal():
        after = whole_number(beyond)
        if after is None or not 0 < after < len(own):
            raise UsageError(
                f"'{text}': {line} has {len(own)} cells, so that a break has 1 to {len(own) - 1} before it",
                f"write open:{line} for the whole line",
            )
        return fault_at(layout, FaultClass.BREAK, line=line, after=after)
    lost = {_cell(text, place, layout, line.matrix) for place in beyond.split("+")}
    strange = sorted(lost - set(own))
    if strange or len(lost) == len(own):
        reason = f"{strange[0]} is not on {line}" if strange else f"every cell of {line} lies beyond the break"
        raise UsageError(f"'{text}': {reason}", f"name some of its cells, or write open:{line} for the whole line")
    return fault_at(layout, FaultClass.BREAK, line=line, cells=sorted(lost))


_PARSERS: dict[FaultClass, Callable[[str, list[str], Layout], Fault]] = {
    FaultClass.BREAK: _break,
    FaultClass.PLUGS_SWAPPED: _swapped,
    FaultClass.PLUG_SHIFTED: _shifted,
}


def _glow(text: str, place: str, layout: Layout) -> Fault:
    whole = {fault.cells[0].matrix: fault for fault in glow_faults(layout)}
    if place in layout.matrix_ids:
        if place not in whole:
            raise UsageError(f"'{text}': {place} has no LED on a keep-warm resistor", "name another matrix")
        return whole[place]
    cells = [_cell(text, each, layout) for each in place.split("+")]
    return fault_at(layout, FaultClass.KEEP_WARM_GLOW, cells=cells)


def _on_line_or_part(text: str, fault_class: FaultClass, place: str, layout: Layout) -> Fault:
    """Parse `open`, `stuck-on` and `grounded`: at a line, or at a part that stands in the path of one."""
    if parse_line(place, "") or "." in place:
        return fault_at(layout, fault_class, line=_line(text, place, layout))
    ref = _part(text, place, layout)
    lines = layout.lines_through[ref]
    if fault_class is FaultClass.OPEN:
        wanted = {kind: each for each, kind in PART_KIND.items()}
        better = wanted.get(part_class(ref))
        if better and owner(ref) == ref:
            raise UsageError(f"'{text}': {ref} is a {part_class(ref)}", f"write {better}:{ref}")
        return fault_at(layout, fault_class, part=ref)
    if len(lines) != 1:
        raise UsageError(
            f"'{text}': {ref} is in the path of {len(lines)} lines", f"name one, as in {fault_class}:{lines[0]}"
        )
    return fault_at(layout, fault_class, line=lines[0])


def _part(text: str, ref: str, layout: Layout) -> str:
    if ref in layout.lines_through:
        return ref
    raise UsageError(f"'{text}': no line runs through '{ref}'", _nearest_of(ref, layout.lines_through))


def _line(text: str, place: str, layout: Layout, matrix: str = "") -> LineKey:
    key = parse_line(place, matrix or _only_matrix(layout))
    if key is None:
        raise UsageError(f"'{text}': '{place}' is not a line", "write a line as in switches.c3 or switches.r1")
    lines = _matrix(text, key.matrix, layout).lines
    if key not in lines:
        count = sum(each.side == key.side for each in lines)
        known = f"{key.matrix} has {key.side}s 1 to {count}" if count else f"{key.matrix} has no shared {key.side}s"
        raise UsageError(f"'{text}': no line {key}", known)
    return key


def _cell(text: str, place: str, layout: Layout, matrix: str = "") -> CellKey:
    home = matrix or _only_matrix(layout)
    key = parse_cell(place, home)
    if key is not None:
        cell = _matrix(text, key.matrix, layout).by_key.get(key)
    else:
        before, dot, number = place.rpartition(".")
        found = parse_number(number)
        if found is None or not (dot or home):
            raise UsageError(f"'{text}': '{place}' is not a cell", "write a cell as in switches.r2c3 or switches.19")
        cell = _matrix(text, before or home, layout).by_number.get(found)
    if cell is None:
        raise UsageError(f"'{text}': nothing is fitted at {place}", "name a fitted cell")
    return cell.key


def _matrix(text: str, matrix_id: str, layout: Layout) -> Matrix:
    if not matrix_id:
        known = ", ".join(layout.matrix_ids)
        raise UsageError(f"'{text}' doesn't say in which matrix", f"write one of {known} and a dot before the place")
    if matrix_id not in layout.matrix_ids:
        raise UsageError(f"'{text}': no matrix '{matrix_id}'", _nearest_of(matrix_id, layout.matrix_ids))
    return layout.matrix(matrix_id)


def _only_matrix(layout: Layout) -> str:
    """Return the matrix that a place without one lies in: no doubt only where the layout has a single one."""
    return layout.matrix_ids[0] if len(layout.matrix_ids) == 1 else ""


def _nearest_of(word: str, known: Iterable[str]) -> str:
    names = list(known)
    alike = [name for name in names if name[:1] == word[:1]]
    meant = nearest(word, alike) or nearest(word, names)
    if meant:
        return f"did you mean '{meant}'?"
    ordered = [*alike, *(name for name in names if name not in alike)]
    choice = ", ".join(ordered[:12])
    return f"take one of {choice}{', ...' if len(ordered) > 12 else ''}" if names else "the layout has none"
