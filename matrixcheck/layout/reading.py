"""What was seen at the machine, in terms of a layout's places: what the journal keeps and the analyser reads."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Literal

from matrixcheck.layout.frozen import Frozen
from matrixcheck.layout.places import CellKey


class Mark(StrEnum):
    """How a cell stands. A cell that nobody exercised is untested, never working."""

    WORKING = "working"
    DEAD = "dead"
    STUCK = "stuck"
    UNTESTED = "untested"


class Reading(Frozen, frozen=True, kw_only=True, gc=False):
    """One exercise and what showed while it lasted.

    `cell` is the exercised cell, None for a rest scan. `held` are the cells kept closed meanwhile. `answered` are all
    that showed, held ones included; None when only the mark of the exercised cell is known. `faint` glowed weakly.
    `mark` is set where the person judged the cell outright. `ohms` is a resistance measured at the device, in ohms.
    `blew` is true when a fuse went during the reading, or that fuse's designator.
    """

    matrix: str
    cell: CellKey | None = None
    held: tuple[CellKey, ...] = ()
    answered: tuple[CellKey, ...] | None = None
    faint: tuple[CellKey, ...] = ()
    mark: Mark | None = None
    ohms: float | None = None
    note: str = ""
    at: datetime | None = None
    blew: bool | str = False


Verdict = Literal["good", "faulty", "replaced", "between"]


class Finding(Frozen, frozen=True, kw_only=True):
    """What a bench check or a repair says of one place.

    A place is a designator (`Q3`, `X5-4`), a line (`switches.c3`: its wire) or a cell (`switches.r1c3`: device, diode
    and its own wire).

    `check`: the kind of check, as `first wire` or `transistor`, which says what of the place it can see; empty where
    nobody said. A check that was recorded by its `code` keeps the two `points` it was made at, the `value` that was
    read, and in `faults` the keys of what it clears when good and of which one is there when faulty; `between` says
    neither.
    """

    place: str
    verdict: Verdict
    check: str = ""
    code: str = ""
    points: tuple[str, ...] = ()
    value: str = ""
    faults: tuple[str, ...] = ()

    @property
    def places(self) -> tuple[str, ...]:
        """Return the place, and those of all faults that the check can see."""
        return tuple(dict.fromkeys((self.place, *self._seen)))

    @property
    def blames(self) -> str:
        """Return the place that is at fault where it was found faulty; "" where it is one of several."""
        return self.place if set(self._seen) <= {self.place} else ""

    @property
    def _seen(self) -> tuple[str, ...]:
        return tuple(key.split(":")[1] for key in self.faults if ":" in key)
