"""Title a fault in at most 60 characters: what is wrong, and where."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import NamedTuple

from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, MISPLACED_PLUGS
from matrixcheck.diagnosis.result import Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.places import numbers_words, part_words
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Layout
from matrixcheck.layout.wording import cell_words, line_words, lines_words
from matrixcheck.report.answer.folding import shared_out
from matrixcheck.report.answer.model import LONGEST_TITLE

CLEAR_MAJORITY = 0.7
"""From this share of a suspect on its likeliest fault gives the title alone."""

MOST_LIKELY = ", most likely"


class Titled(NamedTuple):
    """A title, and the likeliest of the faults that it names."""

    title: str
    lead: Fault


def titled(layout: Layout, suspect: Suspect, taken: Collection[str] = ()) -> Titled:
    """Return the title of a suspect: that of its likeliest sort of fault, with the second where neither is clear.

    A title that is `taken` by another suspect is passed over where there is a choice.
    """
    shares: dict[str, float] = {}
    leads: dict[str, tuple[float, Fault]] = {}
    for fault, share in shared_out(suspect):
        words = fault_title(layout, fault, alone=len(suspect.members) == 1)
        shares[words] = shares.get(words, 0.0) + share
        if words not in leads or share > leads[words][0]:
            leads[words] = share, fault
    likeliest_first = sorted(shares, key=lambda words: -round(shares[words], 9))
    first, *others = [words for words in likeliest_first if words not in taken] or likeliest_first
    title = first
    if others and shares[first] < CLEAR_MAJORITY:
        both = f"{first}, or {uncapital(others[0])}"
        room = LONGEST_TITLE - len(MOST_LIKELY)
        alone = f"{fault_title(layout, leads[first][1], room, alone=len(suspect.members) == 1)}{MOST_LIKELY}"
        title = both if len(both) <= LONGEST_TITLE else alone
    return Titled(title, leads[first][1])


def fault_title(layout: Layout, fault: Fault, room: int = LONGEST_TITLE, *, alone: bool = True) -> str:
    """Return the title of one fault; `alone`: it is not one of several that look the same."""
    if fault.fault in DEAD_CELL:
        title = _cell(layout, fault, _DEAD[fault.fault] if alone else "is dead", room)
    else:
        title = _TITLES[fault.fault](layout, fault, room)
    return shortened(capital(title), room)


def capital(text: str) -> str:
    """Return the text with a capital first."""
    return text[:1].upper() + text[1:]


def uncapital(text: str) -> str:
    """Return the text as it stands within a sentence; a designator keeps its capital."""
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def shortened(text: str, room: int) -> str:
    """Return the text, cut with an ellipsis where it doesn't fit."""
    return text if len(text) <= room else f"{text[: room - 1].rstrip()}…"


def _with_lines(layout: Layout, fault: Fault, said: str, room: int) -> str:
    """Return the words with the lines of a part in brackets, where there is room."""
    return _with(said, lines_words(layout, fault.lines) if fault.lines else "", room)


def _with(said: str, more: str, room: int) -> str:
    whole = f"{said} ({more})"
    return whole if more and len(whole) <= room else said


def _cell(layout: Layout, fault: Fault, said: str, room: int) -> str:
    """Return what is wrong with a cell: its name is cut before anything else."""
    named = cell_words(layout, fault.cells[0])
    over = len(named) + len(said) + 1 - room
    if over > 0 and named.endswith(")"):
        named = f"{named[: -over - 2].rstrip()}…)"
    return f"{named} {said}"


def _open(layout: Layout, fault: Fault, room: int) -> str:
    if fault.part is not None and owner(fault.part) == fault.part and len(fault.lines) > 1:
        failed = "has failed" if part_class(fault.part) == "integrated circuit" else "is open"
        return _with_lines(layout, fault, f"{part_words(fault.part)} {failed}", room)
    return f"{lines_words(layout, fault.lines)} {'is' if len(fault.lines) == 1 else 'are'} open"


def _break(layout: Layout, fault: Fault, room: int) -> str:
    line = fault.lines[0]
    said = f"{line_words(layout, line)} wire is broken"
    if layout.line(line).chain is None:
        return said
    order = layout.matrix(line.matrix).cells_of(line)
    last = order[len(order) - len(fault.cells) - 1]
    for words in (cell_words(layout, last.key), f"{last.device} {last.number}"):
        if len(whole := f"{said} after {words}") <= room:
            return whole
    return said


def _stuck_on(layout: Layout, fault: Fault, room: int) -> str:
    del room
    relay = layout.line(fault.lines[0]).select
    return f"{line_words(layout, fault.lines[0])} {f'is live whatever {relay} does' if relay else 'stays on'}"


def _relay(layout: Layout, fault: Fault, room: int) -> str:
    named = part_words(str(fault.part))
    if layout.line(fault.lines[0]).select == fault.part:
        return f"{named} is stuck {'at rest' if fault.when == 'rest' else 'pulled in'}"
    return _with_lines(
        layout, fault, f"{named} {'fails to pull in' if fault.when == 'rest' else 'fails to drop'}", room
    )


def _glow(layout: Layout, fault: Fault, room: int) -> str:
    if len(fault.cells) == 1:
        return _cell(layout, fault, "glows by itself: no fault", room)
    matrix = layout.matrix(fault.cells[0].matrix)
    alike = [one for one in layout.matrices if one.kind is matrix.kind]
    whose = f" of {matrix.name or matrix.id}" if len(alike) > 1 else ""
    return f"{numbers_words(layout, fault.cells, 'and')}{whose} glow by themselves: no fault"


def _device_stuck(layout: Layout, fault: Fault, room: int) -> str:
    switch = layout.cell(fault.cells[0]).device == "switch"
    return _cell(layout, fault, "is stuck closed" if switch else "stays on", room)


def _shift(layout: Layout, fault: Fault, room: int) -> str:
    how = "high" if fault.after == 1 else "low"
    return _with_lines(layout, fault, f"{part_words(str(fault.part))} sits one pin too {how}", room)


_DEAD = {
    FaultClass.DEVICE_DEAD: "is dead",
    FaultClass.DIODE_OPEN: "has an open diode",
    FaultClass.DIODE_REVERSED: "has its diode the wrong way round",
}

_Title = Callable[[Layout, Fault, int], str]

_TITLES: dict[FaultClass, _Title] = {
    FaultClass.OPEN: _open,
    FaultClass.BREAK: _break,
    FaultClass.UNPLUGGED: lambda layout, fault, room: _with_lines(
        layout, fault, f"{part_words(str(fault.part))} is off", room
    ),
    FaultClass.PLUG_SHIFTED: _shift,
    FaultClass.PLUGS_SWAPPED: lambda _layout, fault, _room: f"plugs {fault.part} and {fault.other} are swapped",
    FaultClass.FUSE_BLOWN: lambda layout, fault, room: _with_lines(
        layout, fault, f"{part_words(str(fault.part))} is blown", room
    ),
    FaultClass.RELAY_STUCK: _relay,
    FaultClass.STUCK_ON: _stuck_on,
    FaultClass.GROUNDED: lambda layout, fault, _room: f"{line_words(layout, fault.lines[0])} wire is grounded",
    FaultClass.SHORTED_TOGETHER: lambda layout, fault, _room: (
        f"{lines_words(layout, fault.lines)} are shorted together"
    ),
    FaultClass.CROSSED: lambda layout, fault, _room: f"{lines_words(layout, fault.lines)} are crossed",
    FaultClass.DEVICE_STUCK: _device_stuck,
    FaultClass.DIODE_SHORTED: lambda layout, fault, room: _cell(layout, fault, "has a shorted diode", room),
    FaultClass.KEEP_WARM_GLOW: _glow,
    FaultClass.WRONG_DEVICE: lambda layout, fault, room: _cell(layout, fault, "has the wrong resistance", room),
}


def brief_title(layout: Layout, fault: Fault) -> str:
    """Name a fault in a few words."""
    if fault.fault in _BRIEF_CELLS:
        cell = layout.cell(fault.cells[0])
        return f"{_BRIEF_CELLS[fault.fault]} {cell.device} {cell.number}"
    if fault.fault is FaultClass.BREAK:
        line = fault.lines[0]
        order = layout.matrix(line.matrix).cells_of(line)
        known = layout.line(line).chain is not None
        after = f" after {order[len(order) - len(fault.cells) - 1].number}" if known else ""
        return f"break in {line_words(layout, line)}{after}"
    if fault.part is not None and fault.fault is not FaultClass.STUCK_ON:
        if fault.fault in MISPLACED_PLUGS:
            return uncapital(fault_title(layout, fault))
        return f"{_BRIEF_PARTS.get(fault.fault, '')}{part_words(fault.part)}"
    if fault.lines:
        return f"{_BRIEF_LINES.get(fault.fault, '')}{lines_words(layout, fault.lines)}"
    return uncapital(fault_title(layout, fault))


_BRIEF_CELLS = {
    FaultClass.DEVICE_DEAD: "dead",
    FaultClass.DIODE_OPEN: "open diode of",
    FaultClass.DIODE_REVERSED: "reversed diode of",
    FaultClass.DEVICE_STUCK: "stuck",
    FaultClass.DIODE_SHORTED: "shorted diode of",
    FaultClass.WRONG_DEVICE: "wrong",
}
_BRIEF_PARTS = {FaultClass.UNPLUGGED: "loose ", FaultClass.FUSE_BLOWN: "blown ", FaultClass.RELAY_STUCK: "stuck "}
_BRIEF_LINES = {
    FaultClass.OPEN: "open ",
    FaultClass.STUCK_ON: "stuck-on ",
    FaultClass.GROUNDED: "grounded ",
    FaultClass.SHORTED_TOGETHER: "short of ",
    FaultClass.CROSSED: "crossed ",
}
