"""What is printed on a fuse, read and compared: amps, and whether it is slow or fast."""

from __future__ import annotations

import re
from typing import NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.layout.model import Layout
from matrixcheck.layout.problems import shown
from matrixcheck.record.events import SafetyChecked
from matrixcheck.record.safety_checks import SafetyItem

_SPEED = r"(?:FF|TT|F|T|M|SLOW|FAST)"
_RATING = re.compile(
    rf"\b(?P<before>{_SPEED})?\s*(?P<amps>[0-9]+(?:[.,][0-9]+)?)\s*(?P<milli>M?)A\s*(?P<after>{_SPEED})?\b"
)
_SAME = {"SLOW": "T", "FAST": "F"}


class Rating(NamedTuple):
    """Amps, and T (slow), F (fast) or another letter of IEC 60127; "" where it isn't said."""

    amps: float
    speed: str


def rating_of(text: str) -> Rating | None:
    """Return what a text such as `6.3 A T`, `T4A 250 V` or `500 mA fast` says; None where it names no amps."""
    found = _RATING.search(text.upper())
    if found is None:
        return None
    speed = found["before"] or found["after"] or ""
    amps = float(found["amps"].replace(",", "."))
    return Rating(amps / 1000 if found["milli"] else amps, _SAME.get(speed, speed))


def judged_fuse(one: SafetyItem, layout: Layout, printed: str) -> SafetyChecked:
    """Return the event of a fuse in whose holder one was found on which `printed` stands, judged by the layout.

    Raises UsageError where the check is of no fuse, or either rating can't be read.
    """
    part = layout.part_by_ref.get(one.ref)
    due = rating_of(part.rating) if part else None
    if not one.ref or one.one_of != "fuses":
        raise UsageError(f"{one.item} is no fuse of the layout", "name one, as in F2")
    if part is None or due is None:
        raise UsageError(f"the layout gives no amps for {one.item}", "type pass or fail, by the manual")
    found = rating_of(printed)
    if found is None:
        raise UsageError(f"{shown(printed)} names no amps", "type what is printed on the fuse, as in '6.3 A T'")
    if due.speed and not found.speed:
        raise UsageError(f"{shown(printed)} says not whether it is slow or fast", "type it with T or F, as printed")
    passed = found.amps == due.amps and due.speed in ("", found.speed)
    return SafetyChecked(item=one.item, passed=passed, note=f"found {printed}, due {part.rating}")
