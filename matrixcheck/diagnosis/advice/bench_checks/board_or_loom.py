"""Propose checks of whether a dead line's signal leaves the board: at the board's own pins, its plug off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.coil_circuit import moved_wire, volts_along
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    Step,
    board_pin,
    contact_of,
    is_fed,
    is_sensed,
    plugs_of,
    pull_live,
)
from matrixcheck.diagnosis.advice.bench_checks.through_a_diode import across_the_sides
from matrixcheck.diagnosis.machine.plugs import like_plugs, lines_of_plugs
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.wording import either, line_words


def board_or_loom_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield checks that part what sits on the board of a dead line from what sits in its loom."""
    for line, opens in _dead_lines(members).items():
        board = tuple(fault for fault in opens if _on_board(fault) or _unnamed_driver(layout, fault))
        loom = tuple(fault for fault in opens if not _on_board(fault))
        kind = layout.matrix(line.matrix).kind
        if not board:
            continue
        if kind is Kind.COIL:
            yield from _coil_line(layout, line, tuple(opens), loom)
            continue
        yield from _at_the_pin(layout, line, board)
        yield from _like_plugs(layout, line, board)
        if layout.matrix(line.matrix).rows_shared and contact_of(layout, line):
            yield _neighbours(layout, line, board)


def grounded_or_stuck_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield checks of a stuck driver or a grounded wire: with the plug off, a grounded driven wire still shows.

    Not tried on coils, which would be held on meanwhile; a sensed line is unplugged for the check of its input.
    """
    stuck = {fault.lines[0] for fault in members if fault.fault is FaultClass.STUCK_ON}
    for fault in members:
        if fault.fault is not FaultClass.GROUNDED or fault.lines[0] not in stuck:
            continue
        line = fault.lines[0]
        if not is_sensed(layout, line) and layout.matrix(line.matrix).kind is not Kind.COIL:
            yield _unplug_and_try(layout, line, fault)


def _dead_lines(members: Sequence[Fault]) -> dict[LineKey, list[Fault]]:
    found: dict[LineKey, list[Fault]] = {}
    for fault in members:
        if fault.fault is FaultClass.OPEN and len(fault.lines) == 1:
            found.setdefault(fault.lines[0], []).append(fault)
    return found


def _on_board(fault: Fault) -> bool:
    return fault.part is not None and part_class(fault.part) in ("transistor", "integrated circuit")


def _unnamed_driver(layout: Layout, fault: Fault) -> bool:
    """Return whether a line's open start may be its driver: none is named in the layout."""
    path = {part_class(ref) for ref in layout.line(fault.lines[0]).path}
    return fault.part is None and path.isdisjoint({"transistor", "integrated circuit", "relay"})


def _at_the_pin(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Iterator[Step]:
    matrix = layout.matrix(line.matrix)
    if matrix.kind is Kind.LAMP:
        if matrix.rows_shared:
            yield _test_lamp(layout, line, board)
    elif not matrix.rows_shared:
        if line.side == "row":
            yield _bridge(layout, line, board)
    else:
        yield from _through_a_diode(layout, line, board)


def _test_lamp(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Step:
    """Check with the plug off: a grounded wire isn't taken for a dead board. A sink shows nothing without a lamp."""
    named, other = line_words(layout, line), "lamp ground" if is_fed(layout, line) else "lamp supply"
    return Step(
        kind="board pin in test mode",
        test="board",
        at=(line,),
        short=f"Pull the plug, clip a test lamp from {board_pin(layout, line)} to {other}, and exercise it.",
        prepare=f"{pull_live(layout, line)} Clip a test lamp to the board pin. Switch on.",
        do=f"Exercise {named} in test mode.",
        points=(board_pin(layout, line), other),
        good="the test lamp lights or flickers, as at a neighbour's pin",
        faulty=f"it stays dark while {named} is exercised",
        then="Good: the board is good; look at contact and wire, also for a short to ground. Faulty: driver or chip.",
        power=True,
        plugs=plugs_of(layout, line),
        hazard=cautions.on(Kind.LAMP),
        confirms=board,
    )


def _bridge(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Step:
    """Check a direct input at the board's own plug: one further out would leave a stretch of wire in the test."""
    named = line_words(layout, line)
    back = next((contact_of(layout, key) for key in layout.matrix(line.matrix).lines if key.side == "column"), None)
    outer = [owner(ref) for ref in layout.line(line).path if part_class(ref) == "connector"][1:]
    further = f" Good: plug back on, {outer[-1]} off, the same again: that proves the stretch between." if outer else ""
    return Step(
        kind="bridge an input",
        test="board",
        at=(line,),
        short=f"Pull the plug at the board, and bridge {board_pin(layout, line)} to its return.",
        prepare=f"{pull_live(layout, line)} Bridge the two board pins. Switch on.",
        do="Look at the switch test.",
        points=(
            board_pin(layout, line),
            f"board pin {back}, its return" if back else "its return pin, or logic ground",
        ),
        good=f"{named} shows",
        faulty=f"nothing shows on {named}",
        then=f"Good: the board is good; look at plug and wire.{further}",
        power=True,
        plugs=plugs_of(layout, line),
        hazard=cautions.on(Kind.SWITCH),
        confirms=board,
    )


def _through_a_diode(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Iterator[Step]:
    found = across_the_sides(layout, line)
    if found is None:
        return
    yield Step(
        kind="board pin in test mode",
        test="board",
        at=(line,),
        short=f"Pull both plugs, and join the board pins of {found.pins} through a diode.",
        prepare=found.prepare,
        do="Look at the switch test. Nothing shows: switch off and turn the diode round once.",
        points=found.points,
        good=f"{found.switch} shows",
        faulty=f"nothing shows on {line_words(layout, line)} either way round",
        then="Good: the board is good; look at contact and wire. Faulty: chip, driver, or the pin's solder joint.",
        power=True,
        plugs=found.plugs,
        hazard=cautions.on(Kind.SWITCH),
        confirms=board,
    )


def _like_plugs(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Iterator[Step]:
    """Check without a meter: a fault on the board stays at its header, one in the loom goes along."""
    contact = contact_of(layout, line)
    if contact is None:
        return
    plug, kind = owner(contact), layout.matrix(line.matrix).kind
    pair = next((each for each in like_plugs(layout) if plug in each), None)
    carried = lines_of_plugs(layout, *pair) if pair else ()
    if pair is None or {(key.matrix, key.side) for key in carried} != {(line.matrix, line.side)}:
        return
    other = pair[0] if pair[1] == plug else pair[1]
    noun = "switches" if kind is Kind.SWITCH else "lamps"
    yield Step(
        kind="swap like plugs",
        test="swap-plugs",
        at=(line, other),
        short=f"Swap plugs {plug} and {other}, and see whether the dead {noun} come back.",
        prepare=f"Switch off. Swap plugs {plug} and {other}: they carry lines of one kind. Switch on.",
        do=f"Test the {noun} of {line_words(layout, line)}. Then switch off and put both plugs back.",
        points=(f"plug {plug}", f"plug {other}"),
        good=f"the same {noun} stay dead",
        faulty=f"they work, under other numbers, and other {noun} are dead now",
        then="Good: the board is good. Faulty: driver, chip or header joint.",
        power=True,
        plugs=(plug, other),
        hazard=cautions.on(kind),
        confirms=board,
    )


def _neighbours(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Step:
    kind = layout.matrix(line.matrix).kind
    contact = str(contact_of(layout, line))
    return Step(
        kind="compare with neighbours",
        test="compare",
        at=(line,),
        short=f"Measure DC volts at each wire of plug {owner(contact)} in test mode; look for the odd one out.",
        do=f"Measure DC volts at each wire of plug {owner(contact)}, from the wire side, in test mode.",
        points=(f"the wire at {contact}, then its neighbours", "ground"),
        good="it reads like its neighbours",
        faulty="it is the odd one out",
        then="The neighbour is the reference: no book is needed.",
        power=True,
        hazard=cautions.on(kind),
        confirms=board,
    )


def _coil_line(layout: Layout, line: LineKey, opens: tuple[Fault, ...], loom: tuple[Fault, ...]) -> Iterator[Step]:
    cells = layout.matrix(line.matrix).cells_of(line)
    if cells and not is_fed(layout, line):
        cell = next((each for each in cells if each.device == "coil"), cells[0])
        yield volts_along(layout, cell, loom)
        yield from moved_wire(layout, cell, opens)


def _unplug_and_try(layout: Layout, line: LineKey, fault: Fault) -> Step:
    kind, named = layout.matrix(line.matrix).kind, line_words(layout, line)
    plugs = plugs_of(layout, line)
    driven = kind is Kind.SWITCH
    return Step(
        kind="unplug and try again",
        test="unplug",
        at=(line,),
        short=f"Pull the plug of {named} at the board, and look at it in test mode.",
        prepare=f"{pull_live(layout, line)} Switch on.",
        do=f"Press a switch of {named} in the switch test." if driven else f"Look at {named} in test mode.",
        points=(f"plug {either(plugs)}" if plugs else f"the end of the {named} wire", "its header on the board"),
        good="nothing shows" if driven else "it no longer shows",
        faulty="the switch still shows more than itself" if driven else "it still shows",
        then="Good: the driver is stuck. Faulty: the wire is grounded.",
        power=True,
        plugs=plugs,
        hazard=cautions.on(kind),
        confirms=(fault,),
    )
