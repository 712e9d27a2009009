"""What can happen to a job, as frozen events. The journal keeps them; the state of a job is a pure fold over them.

A class's `kind` is the name that the journal stores beside the event's JSON. An undoable event can be withdrawn.
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, ClassVar, Literal, NamedTuple

from msgspec import Meta

from matrixcheck.layout.frozen import Frozen, from_json, to_json
from matrixcheck.layout.model import Layout, Section
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.problems import visible
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.layout.source import UNKNOWN, LayoutSource

_ESCAPE = re.compile(r"\\(?:u([0-9a-fA-F]{4})|(.))")
_CONTROLS = frozenset("bfnrt")

RoundKind = Literal["walk", "roll", "hold", "rest"]
WalkManner = Literal["stepped", "paced", "all-lit"]
"""How a walk goes: by hand from device to device, timed by the machine's own steps, or with everything lit at once."""

FunctionVerdict = Literal["good", "faulty", "comes and goes", "not fitted"]


class _Event(Frozen, frozen=True, kw_only=True, gc=False):
    kind: ClassVar[str]
    undoable: ClassVar[bool] = True


class JobOpened(_Event, frozen=True, kw_only=True):
    """A machine came onto the bench. Its layout is kept with it, so that later edits of the file change no history.

    `previous` is the job of its last visit, "" where none is known. `source` is where the layout was read.
    """

    kind: ClassVar[str] = "job-opened"
    undoable: ClassVar[bool] = False

    name: str
    serial: str = ""
    owner: str = ""
    layout: Layout
    previous: str = ""
    source: LayoutSource = UNKNOWN


class Relaid(_Event, frozen=True, kw_only=True):
    """The job goes on with another layout of its machine. Events from here on speak of places as that has them.

    Places are ids of matrices, lines and crossings, written as their keys are. One that both layouts have is the same,
    unless it is `moved` (as it was, as it is now) or `gone`. `back` are places that an earlier layout of the job had
    and the last one hadn't: which layout, counted from 0 for the opening's, the place there, the place now. `said` is
    what differs, in words.
    """

    kind: ClassVar[str] = "relayout"

    layout: Layout
    moved: tuple[tuple[str, str], ...] = ()
    gone: tuple[str, ...] = ()
    back: tuple[tuple[int, str, str], ...] = ()
    source: LayoutSource = UNKNOWN
    said: str = ""


class JobEdited(_Event, frozen=True, kw_only=True):
    """A job was renamed, or its serial number or owner put right; what stayed is None."""

    kind: ClassVar[str] = "job-edited"

    name: str | None = None
    serial: str | None = None
    owner: str | None = None


class JobClosed(_Event, frozen=True, kw_only=True):
    """The work on a machine was closed, with a verdict."""

    kind: ClassVar[str] = "job-closed"

    verdict: str


class JobReopened(_Event, frozen=True, kw_only=True):
    """A closed job goes on."""

    kind: ClassVar[str] = "job-reopened"


class JobArchived(_Event, frozen=True, kw_only=True):
    """A job was taken off the list of jobs, or put back (`hidden` false). Nothing of it is deleted."""

    kind: ClassVar[str] = "job-archived"

    hidden: bool = True


class RoundStarted(_Event, frozen=True, kw_only=True):
    """A round through one matrix began.

    It goes over `cells` of it, or over all where there are none; `held` are the switches kept closed meanwhile.
    `manner` is a walk's.
    """

    kind: ClassVar[str] = "round-started"
    undoable: ClassVar[bool] = False

    matrix: str
    round: RoundKind
    held: tuple[CellKey, ...] = ()
    cells: tuple[CellKey, ...] = ()
    manner: WalkManner = "stepped"


class RoundPaced(_Event, frozen=True, kw_only=True):
    """The timing of a timed walk was set, put right or stopped.

    Now it shows the device at `place` of the round, from 0, and goes on every `seconds` unless it is paused. `round` is
    the seq at which the walk began, 0 in old books.
    """

    kind: ClassVar[str] = "round-paced"
    undoable: ClassVar[bool] = False

    seconds: Annotated[float, Meta(gt=0)]
    place: Annotated[int, Meta(ge=0)]
    paused: bool = False
    round: int = 0


class RoundEnded(_Event, frozen=True, kw_only=True):
    """The round that began at the seq `round` was closed; in old books, where it is 0, the open one."""

    kind: ClassVar[str] = "round-ended"
    undoable: ClassVar[bool] = False

    round: int = 0


class Read(_Event, frozen=True, kw_only=True):
    """Something was exercised, or a rest scan made, in the round that began at the seq `round`, 0 for none."""

    kind: ClassVar[str] = "reading"

    reading: Reading
    round: int = 0


class Deferred(_Event, frozen=True, kw_only=True):
    """A cell was put off, with the reason given."""

    kind: ClassVar[str] = "deferral"

    cell: CellKey
    reason: str = ""


class Found(_Event, frozen=True, kw_only=True):
    """A bench check said something of a place."""

    kind: ClassVar[str] = "finding"

    finding: Finding
    note: str = ""


class Repaired(_Event, frozen=True, kw_only=True):
    """A place (designator, line or cell) was repaired or replaced.

    `did` says what was done, `fitted` what was put in, `value` its rating or what was measured. `outside`: the place is
    no part of the layout (a belt, a flipper link).
    """

    kind: ClassVar[str] = "repair"

    place: str
    note: str = ""
    did: str = ""
    fitted: str = ""
    value: str = ""
    outside: bool = False


class SafetyChecked(_Event, frozen=True, kw_only=True):
    """A safety check was made, or waived for the reason in `note`.

    `reading` is what was measured, in `unit`, `limit` what that was held to, and `source` where the limit comes from;
    the note says the same in words.
    """

    kind: ClassVar[str] = "safety-check"

    item: str
    passed: bool
    note: str = ""
    waived: bool = False
    reading: float | None = None
    limit: float | None = None
    unit: Literal["", "ohms", "megohms", "volts", "amps"] = ""
    source: str = ""


class Accepted(_Event, frozen=True, kw_only=True):
    """That a lamp glows with nothing exercised is normal on this machine; `back` takes that back."""

    kind: ClassVar[str] = "accepted"

    cell: CellKey
    note: str = ""
    back: bool = False


class FunctionChecked(_Event, frozen=True, kw_only=True):
    """A line of one of the lists of the rest of the test mode was tried, or there is nothing of the kind here."""

    kind: ClassVar[str] = "function-check"

    section: Section
    item: str
    verdict: FunctionVerdict
    note: str = ""


class Noted(_Event, frozen=True, kw_only=True):
    """A note in the technician's words."""

    kind: ClassVar[str] = "note"

    text: str


class PhotoTaken(_Event, frozen=True, kw_only=True):
    """A photo was taken: of a place, a check before power, a bench check, with a note, or of the machine as a whole.

    `photo` is its name in the book, the SHA-256 of its file; `width` and `height` are dots, `size` bytes. One at most
    of these says what it shows: `place` (a part, line or cell), `safety` (the check's item), `check` (the bench check's
    code), `note` (the seq of the note).
    """

    kind: ClassVar[str] = "photo"

    photo: str
    width: int
    height: int
    size: int
    place: str = ""
    safety: str = ""
    check: str = ""
    note: int = 0
    caption: str = ""


class Withdrawn(_Event, frozen=True, kw_only=True):
    """Everything that was recorded together as `batch` no longer counts, or of it the events `only` (their seq)."""

    kind: ClassVar[str] = "withdrawal"
    undoable: ClassVar[bool] = False

    batch: int
    only: tuple[int, ...] = ()


class Restored(_Event, frozen=True, kw_only=True):
    """What the `withdrawal` of that seq took out counts again."""

    kind: ClassVar[str] = "redo"
    undoable: ClassVar[bool] = False

    withdrawal: int


Event = (
    JobOpened
    | Relaid
    | JobEdited
    | JobClosed
    | JobReopened
    | JobArchived
    | RoundStarted
    | RoundPaced
    | RoundEnded
    | Read
    | Deferred
    | Found
    | Repaired
    | SafetyChecked
    | FunctionChecked
    | Accepted
    | Noted
    | PhotoTaken
    | Withdrawn
    | Restored
)

BY_KIND: dict[str, type[Event]] = {
    event.kind: event
    for event in (
        JobOpened,
        Relaid,
        JobEdited,
        JobClosed,
        JobReopened,
        JobArchived,
        RoundStarted,
        RoundPaced,
        RoundEnded,
        Read,
        Deferred,
        Found,
        Repaired,
        SafetyChecked,
        FunctionChecked,
        Accepted,
        Noted,
        PhotoTaken,
        Withdrawn,
        Restored,
    )
}


class Client(NamedTuple):
    """Who records.

    A program or page by its `id`, and the person at it by `initials`; both "" for nobody in particular.
    """

    id: str = ""
    initials: str = ""


NOBODY = Client()


class Recorded(NamedTuple):
    """An event as the journal holds it.

    `seq` counts over the whole book; events of one `batch` were kept together in one transaction and are withdrawn
    together. `at` is UTC. `id` is the event's own, in any book; `client` and `initials` say who recorded it. All three
    are "" where the book was written before they were kept.
    """

    seq: int
    job: str
    batch: int
    at: datetime
    event: Event
    id: str = ""
    client: str = ""
    initials: str = ""


def body_of(event: Event) -> str:
    """Return the event as JSON, without its kind and without what it leaves at its default.

    Raises ValueError for one that no journal could give back.
    """
    return to_json(event)


def event_from(kind: str, body: str) -> Event:
    """Return the event that `body_of` wrote.

    Blanks stand for what would steer a terminal: a book may come from anywhere.

    Raises KeyError for an unknown kind, ValueError for a bad body.
    """
    plain = "\\" not in body and body.isascii()
    return from_json(BY_KIND[kind], body if plain else _visible_json(body))


def _visible_json(body: str) -> str:
    steering = {ord(sign): " " for sign in set(body) if visible(sign) != sign}
    return _ESCAPE.sub(_visible_escape, body.translate(steering))


def _visible_escape(found: re.Match[str]) -> str:
    code, short = found.groups()
    steers = short in _CONTROLS if code is None else visible(chr(int(code, 16))) == " "
    return " " if steers else found[0]
