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


class Finding(Frozen, frozen=True, kw_only=True):
    """What a bench check or a repair says of one place: a designator (`Q3`, `X5-4`), a line (`switches.c3`: its wire)
    or a cell (`switches.r1c3`: device, diode and its own wire).

    `check`: the kind of check, as `first wire` or `transistor`, which says what of the place it can see; empty where
    nobody said.
    """

    place: str
    verdict: Literal["good", "faulty", "replaced"]
    check: str = ""
