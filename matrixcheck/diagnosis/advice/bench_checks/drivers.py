"""Propose checks of what drives, senses or feeds a line: open, or stuck on. Coils are never powered for it."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.codes import Place
from matrixcheck.diagnosis.advice.bench_checks.relays import live_feed
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    Step,
    board_pin,
    is_fed,
    is_sensed,
    is_string,
    kind_of,
    placed,
    plugs_of,
    pull,
    pull_live,
    sentence,
)
from matrixcheck.diagnosis.advice.bench_checks.through_a_diode import across_the_sides
from matrixcheck.diagnosis.result import Fault, Limits
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.wording import cell_words, line_words


def transistor_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the check of a transistor that may be open."""
    ref = str(fault.part)
    yield Step(
        kind="transistor",
        test="driver-open",
        at=(ref,),
        short=f"Make a diode test on {ref}, both ways, beside a like one.",
        prepare=pull(layout, *fault.lines),
        do=f"Diode test on {placed(layout, ref)}, both ways, beside a like one. "
        "Bipolar: base to collector, base to emitter. MOSFET: the gate first, then drain to source.",
        points=(f"base of {ref} (MOSFET: drain)", "its collector, then its emitter (MOSFET: source)"),
        good="0.4 to 0.9 V one way, as on the like one; a MOSFET gate reads OL or its resistor",
        faulty="OL both ways though the like one conducts, or a MOSFET gate reads near zero",
        then="That it passes doesn't prove that it switches: test at the board pin.",
        plugs=plugs_of(layout, *fault.lines),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=Limits(unit="volts", good=(0.4, 0.9), faulty=((0, 0.1), (2, None)), both_ways=True),
        confirms=(fault,),
    )


def stuck_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of whether a driver, an input or a feed is stuck on."""
    line, kind = fault.lines[0], kind_of(layout, fault)
    relay = layout.line(line).select
    if relay:
        yield live_feed(layout, fault, relay)
    elif is_sensed(layout, line):
        yield _input(layout, fault)
    elif kind is Kind.COIL or (fault.part and part_class(fault.part) == "transistor"):
        yield _shorted(layout, fault)
        if kind is Kind.COIL:
            yield _before_a_new_one(layout, fault)
    elif kind is Kind.SWITCH:
        yield _switch_driver(layout, fault)
    elif is_string(layout, line):
        yield _string(layout, fault)
    else:
        yield _lamp_driver(layout, fault)


def _driver_at(fault: Fault) -> tuple[Place, ...]:
    known = fault.part is not None and part_class(fault.part) == "transistor"
    return (str(fault.part),) if known else (fault.lines[0],)


def _shorted(layout: Layout, fault: Fault) -> Step:
    line, kind = fault.lines[0], kind_of(layout, fault)
    name = fault.part or f"the driver of {line_words(layout, line)}"
    new = " Before a new one goes in, tick off what kills it." if kind is Kind.COIL else ""
    return Step(
        kind="shorted driver",
        test="driver-short",
        at=_driver_at(fault),
        short=f"Make a diode test on {name}, both ways, its plug off.",
        prepare=pull(layout, line),
        do=f"Diode test on {name}, both ways.",
        points=(
            f"the output of {name}: {board_pin(layout, line)}, often its metal tab",
            "its supply" if is_fed(layout, line) else "ground",
        ),
        good="0.4 to 0.7 V one way, OL the other; or OL both ways, as on a like one",
        faulty="under 0.1 V, or under 5 ohms, both ways",
        between="A keep-warm resistor reads its ohms: that is normal." if kind is Kind.COIL else "",
        then=f"Faulty: look at what drives it as well.{new}",
        plugs=plugs_of(layout, line),
        hazard=cautions.held_on(kind),
        limits=Limits(unit="volts", good=(0.4, None), faulty=((0, 0.1),), both_ways=True),
        confirms=(fault,),
    )


def _before_a_new_one(layout: Layout, fault: Fault) -> Step:
    """Check what would kill a new driver: it confirms nothing, and comes after the driver itself."""
    line = fault.lines[0]
    name = fault.part or f"the driver of {line_words(layout, line)}"
    devices = [cell_words(layout, cell.key) for cell in layout.matrix(line.matrix).cells_of(line)[:2]]
    behind = " and ".join(devices) or "its coil"
    return Step(
        kind="before a new driver",
        test="before-new",
        at=_driver_at(fault),
        short=f"Check what would kill a new driver before it goes in: {name}.",
        do=f"Tick off the small transistor and the chip pin before {name}. Measure the ohms of {behind}. Lift a leg of "
        "the diode across the coil and test it, band to the supply lug. Read the rating of the coil fuse.",
        points=(f"what drives {name}", "what it drives"),
        good="all of them are in order",
        faulty="any of them is not: it would kill the new driver too",
        hazard=cautions.Hazard.COIL_STAYS_ON,
        setup="playfield up",
        confirms=(),
    )


def _input(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    matrix, named = layout.matrix(line.matrix), line_words(layout, line)
    high = f"{matrix.volts:g} V" if matrix.volts else "the volts of its neighbours"
    least = matrix.volts * 0.7 if matrix.volts else None
    return Step(
        kind="unplug and look",
        test="input",
        at=(line,),
        short=f"Pull the plug of {named} at the board, press nothing, and look at the switch test.",
        prepare=f"{pull_live(layout, line)} Switch on.",
        do="Press nothing and look at the switch test. Measure DC volts.",
        points=(board_pin(layout, line), "ground"),
        good=f"{named} no longer shows, and the pin stands near {high}",
        faulty=f"{named} still shows, or the pin is near 0 V",
        then="Faulty: the chip, or a leaking part at the pin. Good: the wire is grounded, or a switch is closed.",
        power=True,
        plugs=plugs_of(layout, line),
        hazard=cautions.on(matrix.kind),
        limits=Limits(unit="volts", good=(least, None), faulty=((0, 0.8),)) if least is not None else None,
        confirms=(fault,),
    )


def _switch_driver(layout: Layout, fault: Fault) -> Step:
    """Check through a diode: a driver that is held low shows the whole line of the other side."""
    line = fault.lines[0]
    found = across_the_sides(layout, line)
    if found is None:
        return _by_neighbours(layout, fault)
    return Step(
        kind="board pin in test mode",
        test="pin",
        at=(line,),
        short=f"Pull both plugs, and join the board pins of {found.pins} through a diode.",
        prepare=found.prepare,
        do="Look at the switch test, nothing pressed.",
        points=found.points,
        good=f"{found.switch} shows, and no other switch",
        faulty=f"other switches of {found.other} show as well",
        then="Faulty: the driver is held low. Good: the wire is grounded.",
        power=True,
        plugs=found.plugs,
        hazard=cautions.on(Kind.SWITCH),
        confirms=(fault,),
    )


def _by_neighbours(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    return Step(
        kind="board pin in test mode",
        test="pin",
        at=(line,),
        short=f"Pull the plug, and compare the volts at {board_pin(layout, line)} with those of its neighbours.",
        prepare=f"{pull_live(layout, line)} Switch on.",
        do="Measure DC volts in the switch test, then at the neighbouring pins.",
        points=(board_pin(layout, line), "logic ground"),
        good="like its neighbours",
        faulty="steady 0 V, unlike its neighbours",
        power=True,
        plugs=plugs_of(layout, line),
        hazard=cautions.on(Kind.SWITCH),
        confirms=(fault,),
    )


def _lamp_driver(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    named, pin = line_words(layout, line), board_pin(layout, line)
    if is_fed(layout, line):
        prepare, do = f"{pull_live(layout, line)} Switch on.", "No lamp in test. Measure DC volts."
        short = f"Pull the plug, and measure DC volts from {pin} to lamp ground."
        good, faulty = "like its neighbours", "the full supply, steady, unlike its neighbours"
    else:
        prepare = f"{pull_live(layout, line)} Clip a test lamp from lamp supply to the board pin. Switch on."
        do = "No lamp in test. Look at the test lamp: a bulb of that supply, or an LED with 1 kilohm."
        short = f"Pull the plug, and clip a test lamp from lamp supply to {pin}."
        good, faulty = f"the test lamp is dark unless {named} is called", "the test lamp is lit all the time"
    return Step(
        kind="board pin in test mode",
        test="pin",
        at=(line,),
        short=short,
        prepare=prepare,
        do=f"{do} No 5 V logic probe here.",
        points=(pin, "lamp ground" if is_fed(layout, line) else "lamp supply"),
        good=good,
        faulty=faulty,
        then="Faulty: the driver. Good: the wire.",
        power=True,
        plugs=plugs_of(layout, line),
        hazard=cautions.on(Kind.LAMP),
        confirms=(fault,),
    )


def _string(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    named = line_words(layout, line)
    relays = [ref for ref in layout.line(line).path if part_class(ref) == "relay"]
    return Step(
        kind="string commanded off",
        test="string",
        at=(line,),
        short=f"Command {named} off, and measure volts, AC and DC, at its pin.",
        do=f"Command {named} off. Measure volts, AC and DC.",
        points=(board_pin(layout, line), "its return"),
        good="none",
        faulty="the full supply",
        then=sentence(f"faulty: look at {'relay ' + relays[0] if relays else 'what switches it'}")
        + " Or another string feeds it: pull that one's plug and look again.",
        power=True,
        hazard=cautions.on(Kind.LAMP),
        confirms=(fault,),
    )
