"""Propose checks of relays: by ear and coil volts, then their contacts with all feeds unplugged."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import ABOUT_ZERO, OPEN, Step, placed, unplug
from matrixcheck.diagnosis.result import Fault
from matrixcheck.diagnosis.words.places import line_words
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import LineKey


def relay_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of whether a relay is stuck or wrongly driven: with the power off both look alike."""
    yield _silent(layout, fault) if fault.when == "rest" else _held(layout, fault)
    yield _contacts(layout, fault)


def live_feed(layout: Layout, fault: Fault, relay: str) -> Step:
    """Check a side that its relay no longer disconnects from the supply."""
    side = line_words(layout, fault.lines[0])
    other = "pulled" if layout.line(fault.lines[0]).when == "rest" else "resting"
    how = "press its armature in by hand" if other == "pulled" else "leave its armature alone"
    return Step(
        effort="relay contacts",
        do=f"Switch off, {_unfed(layout, relay)}, {how}, and measure from the common contact of relay "
        f"{placed(layout, relay)} to {side}.",
        points=(f"the common contact of {relay}", f"its contact for {side}"),
        good=f"{OPEN}; then measure between the two loose feeds",
        expect=f"{ABOUT_ZERO}, though the relay is {other}: welded contacts, or feeds that touch",
        caution=cautions.where_a_coil_stays_on(Kind.COIL),
        confirms=(fault,),
    )


def _silent(layout: Layout, fault: Fault) -> Step:
    ref = str(fault.part)
    return Step(
        effort="listen to a relay",
        do=f"Start the test that pulls relay {placed(layout, ref)}, listen. Is it silent, measure volts at its coil.",
        points=(f"one end of the coil of {ref}", "its other end"),
        power=True,
        good="it clicks; or it is silent without volts: then its drive fails, not the relay",
        expect="it is silent though its rated volts are there",
        caution=cautions.at_a_relay(),
        confirms=(fault,),
    )


def _held(layout: Layout, fault: Fault) -> Step:
    ref = str(fault.part)
    return Step(
        effort="listen to a relay",
        do=f"Look at relay {placed(layout, ref)} with nothing commanded, then switch off and watch it.",
        points=(f"relay {ref}", "its armature"),
        power=True,
        good="it rests; or it drops as the power goes: then its driver holds it",
        expect="it stays pulled with the power off",
        caution=cautions.at_a_relay(),
        confirms=(fault,),
    )


def _contacts(layout: Layout, fault: Fault) -> Step:
    ref, pulled = str(fault.part), fault.when == "rest"
    how = "press its armature in by hand" if pulled else "leave its armature alone"
    return Step(
        effort="relay contacts",
        do=f"Switch off, {_unfed(layout, ref)}, {how}, and measure the contacts of relay {placed(layout, ref)}. "
        "A sealed one has no armature to press: swap it with a like one.",
        points=(f"the common contact of {ref}", f"the contact of {ref} for its pulled position"),
        good=f"{ABOUT_ZERO} when pressed" if pulled else OPEN,
        expect=f"{OPEN} when pressed" if pulled else f"{ABOUT_ZERO} though it isn't pulled: welded",
        caution=cautions.before_measuring(Kind.COIL, on_board=True),
        confirms=(fault,),
    )


def _unfed(layout: Layout, relay: str) -> str:
    """Word how to pull the plugs of all that a relay feeds: through the devices its contacts read as one."""
    return unplug(layout, *fed_by(layout, relay))


def fed_by(layout: Layout, relay: str) -> tuple[LineKey, ...]:
    """Return the lines that a relay feeds."""
    return layout.lines_through.get(relay, ())
