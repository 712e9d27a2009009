"""What can happen to a job, as frozen events. The journal keeps them; the state of a job is a pure fold over them.

A class's `kind` is the name that the journal stores beside the event's JSON. An undoable event can be withdrawn.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading

RoundKind = Literal["walk", "roll", "hold", "rest"]
WalkManner = Literal["stepped", "paced", "all-lit"]
"""How a walk goes: by hand from device to device, by the machine's own beat, or with everything lit at once."""


class _Event(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: ClassVar[str]
    undoable: ClassVar[bool] = True


class JobOpened(_Event):
    """A machine came onto the bench. Its layout is kept with it, so that later edits of the file change no history."""

    kind = "job-opened"
    undoable = False

    name: str
    serial: str = ""
    owner: str = ""
    layout: Layout


class RoundStarted(_Event):
    """A round through one matrix began, over `cells` of it, or over all where there are none; `held` are the switches
    kept closed meanwhile. `manner` is a walk's."""

    kind = "round-started"
    undoable = False

    matrix: str
    round: RoundKind
    held: tuple[CellKey, ...] = ()
    cells: tuple[CellKey, ...] = ()
    manner: WalkManner = "stepped"


class RoundPaced(_Event):
    """The beat of a paced walk was set, put right or stopped: now it shows the device at `place` of the round, from 0,
    and goes on every `seconds` unless it is paused."""

    kind = "round-paced"
    undoable = False

    seconds: float = Field(gt=0, allow_inf_nan=False)
    place: int = Field(ge=0)
    paused: bool = False


class RoundEnded(_Event):
    """The open round was closed."""

    kind = "round-ended"
    undoable = False


class Read(_Event):
    """Something was exercised, or a rest scan made."""

    kind = "reading"

    reading: Reading


class Deferred(_Event):
    """A cell was put off, with the reason given."""

    kind = "deferral"

    cell: CellKey
    reason: str = ""


class Found(_Event):
    """A bench check said something of a place."""

    kind = "finding"

    finding: Finding
    note: str = ""


class Repaired(_Event):
    """A place (designator, line or cell) was repaired or replaced."""

    kind = "repair"

    place: str
    note: str = ""


class SafetyChecked(_Event):
    """A safety check was made."""

    kind = "safety-check"

    item: str
    passed: bool
    note: str = ""


class Noted(_Event):
    """A note in the technician's words."""

    kind = "note"

    text: str


class Withdrawn(_Event):
    """Everything that was recorded together as `batch` no longer counts."""

    kind = "withdrawal"
    undoable = False

    batch: int


Event = (
    JobOpened
    | RoundStarted
    | RoundPaced
    | RoundEnded
    | Read
    | Deferred
    | Found
    | Repaired
    | SafetyChecked
    | Noted
    | Withdrawn
)

BY_KIND: dict[str, type[Event]] = {
    event.kind: event
    for event in (
        JobOpened,
        RoundStarted,
        RoundPaced,
        RoundEnded,
        Read,
        Deferred,
        Found,
        Repaired,
        SafetyChecked,
        Noted,
        Withdrawn,
    )
}


class Recorded(NamedTuple):
    """An event as the journal holds it. `seq` counts over the whole book; events of one `batch` were kept together
    in one transaction and are withdrawn together. `at` is UTC."""

    seq: int
    job: str
    batch: int
    at: datetime
    event: Event


def body_of(event: Event) -> str:
    """The event as JSON, without its kind and without what it leaves at its default."""
    return event.model_dump_json(by_alias=True, exclude_defaults=True)


def event_from(kind: str, body: str) -> Event:
    """The event that `body_of` wrote. Raises KeyError for an unknown kind, pydantic.ValidationError for a bad body."""
    return BY_KIND[kind].model_validate_json(body)
