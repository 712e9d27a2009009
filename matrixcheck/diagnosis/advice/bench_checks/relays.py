"""Propose checks of relays: by ear and coil volts, then their contacts with all feeds unplugged."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    ABOUT_ZERO,
    APART,
    OPEN,
    WHOLE,
    Step,
    placed,
    plugs_of,
    pull,
)
from matrixcheck.diagnosis.result import Fault
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.wording import line_words


def relay_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of whether a relay is stuck or wrongly driven: with the power off both look alike."""
    yield _silent(layout, fault) if fault.when == "rest" else _held(layout, fault)
    yield _contacts(layout, fault)


def live_feed(layout: Layout, fault: Fault, relay: str) -> Step:
    """Check a side that its relay no longer disconnects from the supply."""
    line = fault.lines[0]
    fed = layout.lines_through[relay]
    pulled = layout.line(line).when == "rest"
    return Step(
        kind="relay contacts",
        test="feed",
        at=(line,),
        short=f"Measure from the common contact of {relay} to {line_words(layout, line)}, both feeds unplugged.",
        prepare=pull(layout, *fed),
        do=f"{'Press the armature in by hand' if pulled else 'Leave the armature alone'}. Measure at the contacts of "
        f"relay {placed(layout, relay)}.",
        points=(f"the common contact of {relay}", f"its contact for {line_words(layout, line)}"),
        good=OPEN,
        faulty=f"{ABOUT_ZERO}, though the relay is {'pulled' if pulled else 'resting'}",
        then="Faulty: welded contacts. Good: measure between the two loose feeds; about zero means that the loom "
        "joins them.",
        plugs=plugs_of(layout, *fed),
        hazard=cautions.held_on(Kind.COIL),
        limits=APART,
        confirms=(fault,),
    )


def _silent(layout: Layout, fault: Fault) -> Step:
    ref = str(fault.part)
    return Step(
        kind="listen to a relay",
        test="relay",
        at=(ref, "pulls"),
        short=f"Start the test that pulls relay {ref}, and listen.",
        do=f"Start the test that pulls relay {placed(layout, ref)}. Listen, and touch its case. Silent: measure DC "
        "volts across its coil.",
        points=(f"one end of the coil of {ref}", "its other end"),
        good="it clicks; or it is silent without volts: its drive fails, not the relay",
        faulty="it is silent though its rated volts are there",
        then="It clicks: look at its contacts and the feed. No volts: its driver, plug or chip.",
        power=True,
        hazard=cautions.Hazard.POWER_ON,
        confirms=(fault,),
    )


def _held(layout: Layout, fault: Fault) -> Step:
    ref = str(fault.part)
    return Step(
        kind="listen to a relay",
        test="relay",
        at=(ref, "rests"),
        short=f"Look at relay {ref} with nothing commanded, then switch off and watch it.",
        do=f"Look at relay {placed(layout, ref)} with nothing commanded. Then switch off and watch it.",
        points=(f"relay {ref}", "its armature"),
        good="it rests; or it drops as the power goes: its driver holds it",
        faulty="it stays pulled with the power off",
        then="It drops as the power goes: test its driver. It rests and the far side is fed: its contacts.",
        power=True,
        hazard=cautions.Hazard.POWER_ON,
        confirms=(fault,),
    )


def _contacts(layout: Layout, fault: Fault) -> Step:
    """Measure with every feed unplugged: through the devices the contacts would read as one."""
    ref, pulled = str(fault.part), fault.when == "rest"
    fed = layout.lines_through[ref]
    return Step(
        kind="relay contacts",
        test="relay-contacts",
        at=(ref, "pulled" if pulled else "resting"),
        short=f"Measure the contacts of relay {ref} by hand, its feeds unplugged.",
        prepare=pull(layout, *fed),
        do=f"{'Press the armature in by hand' if pulled else 'Leave the armature alone'}. Measure the contacts of "
        f"relay {placed(layout, ref)}. A sealed one has no armature to press: swap it with a like one.",
        points=(f"the common contact of {ref}", f"the contact of {ref} for its pulled position"),
        good="about zero when pressed: up to 1 ohm above the leads" if pulled else OPEN,
        faulty="open when pressed: OL, or over 10 kilohms" if pulled else f"{ABOUT_ZERO}, though it rests: welded",
        then="Good says nothing of its coil or its drive.",
        plugs=plugs_of(layout, *fed),
        hazard=cautions.off(Kind.COIL),
        limits=WHOLE if pulled else APART,
        confirms=(fault,),
    )
