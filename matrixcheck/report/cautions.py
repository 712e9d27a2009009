"""The cautions that stand where they matter.

All are common practice, no source; local codes and a licensed person's judgement come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from matrixcheck.layout.model import Kind

BEFORE_POWER = (
    "Before power: check the mains lead, its fuse and the earth bond of every exposed metal part. Know what each plug "
    "is before it goes in."
)
INSIDE = (
    "Isolate from the mains and let supplies discharge before you touch. Capacitors and high-voltage displays stay "
    "dangerous after switching off. A raised playfield is heavy: prop it with its own stay."
)
FIRST = (
    "This work can hurt: isolate from the mains, and let supplies discharge, before you touch. Local codes and a "
    "licensed person come first."
)
DEFER = "matrixcheck gives hints, not permission: local codes and a licensed person's judgement come first."

BY_KIND: Mapping[Kind, str] = MappingProxyType(
    {
        Kind.SWITCH: "Power is on: keep hands and tools off coils. Some switches fire one: coil fuse out for "
        "work inside.",
        Kind.LAMP: "Lamp sockets are live and lamps are hot: no metal tool near a socket with the power on.",
        Kind.COIL: "Switch off at once if a coil pulls and does not let go: it burns. The solenoid supply can injure: "
        "hands clear.",
    }
)
