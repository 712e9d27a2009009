"""The answer of a diagnosis: plain frozen shapes, and their JSON form (format 1), which other programs read."""

from __future__ import annotations

from enum import StrEnum
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from matrixcheck.layout.numbering import Number
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Mark


class FaultClass(StrEnum):
    """The classes of fault; `machine.fault_classes` says what each does."""

    OPEN = "open"
    UNPLUGGED = "unplugged"
    BREAK = "break"
    STUCK_ON = "stuck-on"
    GROUNDED = "grounded"
    SHORTED_TOGETHER = "shorted-together"
    CROSSED = "crossed"
    PLUGS_SWAPPED = "plugs-swapped"
    PLUG_SHIFTED = "plug-shifted"
    DEVICE_DEAD = "device-dead"
    DEVICE_STUCK = "device-stuck"
    DIODE_OPEN = "diode-open"
    DIODE_SHORTED = "diode-shorted"
    DIODE_REVERSED = "diode-reversed"
    RELAY_STUCK = "relay-stuck"
    FUSE_BLOWN = "fuse-blown"
    KEEP_WARM_GLOW = "keep-warm-glow"
    WRONG_DEVICE = "wrong-device"


class _Shape(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Fault(_Shape):
    """One fault.

    `part` is a designator or None; `lines` and `cells` are what it takes hold of. `after` counts the cells before a
    break, or the pins by which a plug sits too high (1) or too low (-1). `other` is the second line of a short or
    crossing, or the designator of the second of two swapped plugs. `when` is the position a relay is stuck in.
    """

    fault: FaultClass
    part: str | None = None
    lines: tuple[LineKey, ...] = ()
    cells: tuple[CellKey, ...] = ()
    after: int | None = None
    other: LineKey | str | None = Field(None, alias="with")
    when: Literal["rest", "pulled"] | None = None


class Suspect(_Shape):
    """One ambiguity group: faults that no mark can split. `probability` is that of any of its members.

    `shares`, one a member and with sum 1, spread it over them; without any they share alike.
    """

    id: str
    probability: float
    members: tuple[Fault, ...]
    shares: tuple[float, ...] = ()
    explains: tuple[CellKey, ...]
    contradicts: tuple[CellKey, ...]
    untested: tuple[CellKey, ...]
    says: str


class Explanation(_Shape):
    """A set of suspects that together would give the readings; none means nothing beyond private causes."""

    probability: float
    suspects: tuple[str, ...]


class CellState(_Shape):
    """How one cell stands. `private` is the probability of a cause of its own (device, diode, its wire)."""

    cell: CellKey
    number: Number
    name: str
    mark: Mark
    private: float
    intermittent: bool = False


class NextTest(_Shape):
    """Something to do in test mode: exercise `cell` (None for a rest scan) with `held` closed.

    `gain` is the expected drop, in bits, of the uncertainty about the cause of what was seen.
    """

    matrix: str
    cell: CellKey | None
    held: tuple[CellKey, ...] = ()
    gain: float
    says: str


class Limits(_Shape):
    """What readings of a meter mean, in ohms, or in volts of a diode test or a supply.

    `good` and `faulty` are ranges from the least to the most, None for no most; what lies in neither is in between.
    `both_ways`: two readings belong to it, one with the leads exchanged.
    """

    unit: Literal["ohms", "volts"]
    good: tuple[float, float | None] | None = None
    faulty: tuple[tuple[float, float | None], ...] = ()
    both_ways: bool = False


class BenchCheck(_Shape):
    """A measurement or swap away from test mode that splits a suspect's members.

    `code` names what is tested, the same in every answer. `check` is its kind, `short` what to do in one sentence.
    `points` are its two ends; `good` and `faulty` are what a good and a faulty part show, `between` is what else may be
    read, `then` what follows. `expect` is what is seen where the members in `splits` are the fault. `suspects` are all
    that it serves, the likeliest, `suspect`, first. `hazard` is the key of its caution, `setup` what must be opened
    first, `prepare` the beginning of `do` that puts `plugs` off or sets up, `limits` what a reading means.
    """

    suspect: str
    suspects: tuple[str, ...] = ()
    code: str = ""
    check: str = ""
    short: str = ""
    prepare: str = ""
    do: str
    points: tuple[str, str]
    power: bool
    setup: Literal["", "playfield up", "board out"] = ""
    plugs: tuple[str, ...] = ()
    good: str = ""
    faulty: str = ""
    between: str = ""
    then: str = ""
    expect: str
    limits: Limits | None = None
    hazard: str = ""
    caution: str
    splits: tuple[Fault, ...] = Field((), description="members that the expectation would confirm")
    chances: tuple[float, ...] = Field((), description="probability of each of `splits`")
    probability: float
    cost: float = Field(description="effort, in minutes")

    @property
    def minutes(self) -> float:
        """Return the effort, without changes of power and set-up."""
        return self.cost


class Searched(_Shape):
    """How far the search went.

    `exact`: nothing unexplored could come before the best explanation. Else `gap`, from 0 to 1, is the probability of
    everything unexplored together: a bound where the readings are marks alone, an estimate for readings of other sorts;
    None where the search was cut off before it knew. `finished`: no limit in seconds cut the search short, and nothing
    is left to do within the bounds of work.
    """

    exact: bool
    seconds: float
    gap: float | None = None
    finished: bool = True


class Diagnosis(_Shape):
    """The whole answer.

    `explanations` holds up to ten sets, best first. `danger` is what must be said first, empty where there is none;
    with `stop` it is all that may be said, and `next` and `checks` are empty. `rates` says which rates of faults it
    goes by, empty for the shipped ones and a file's.
    """

    danger: str = ""
    stop: bool = False
    explanations: tuple[Explanation, ...]
    suspects: tuple[Suspect, ...]
    cells: tuple[CellState, ...]
    next: tuple[NextTest, ...] = ()
    checks: tuple[BenchCheck, ...] = ()
    searched: Searched
    rates: str = ""

    def suspect(self, suspect_id: str) -> Suspect:
        """Return the suspect of that id; raises KeyError for any other."""
        return {suspect.id: suspect for suspect in self.suspects}[suspect_id]


def to_json(value: object) -> Any:
    """Return a shape as JSON values: places as addresses (`switches.r1c3`, `switches.c3`), keys as in format 1."""
    if isinstance(value, CellKey | LineKey):
        return str(value)
    if isinstance(value, BaseModel):
        fields = type(value).model_fields
        body = {field.alias or name: to_json(getattr(value, name)) for name, field in fields.items()}
        return {"format": 1, **body} if isinstance(value, Diagnosis) else body
    if isinstance(value, tuple | list):
        return [to_json(item) for item in value]
    return str(value) if isinstance(value, StrEnum) else value
