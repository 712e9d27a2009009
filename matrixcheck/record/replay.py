"""The state of a job as a pure fold over its events.

A withdrawal takes out everything recorded with its batch, as if it had never been: the state after it is the state of
the remaining events.

A repair outdates earlier bench checks of the same place, the rest scans of the matrices that it touches (where it is
the repair of one cell, only those that say something of it), and the readings of a cell
- whose lines run through the repaired part, or that was repaired itself, or whose line was;
- that said something of such a cell: that it echoed, glowed, answered instead, or was held and did not show;
- whose mark rested on a scan that is outdated.
Such a cell is due for a retest and stands untested until then.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from msgspec.structs import replace

from matrixcheck.layout.designators import owner as owning_part
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, parse_cell, parse_line
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record import coil_lock
from matrixcheck.record.cell_state import (
    AtRest,
    Evidence,
    Resting,
    Seen,
    Standing,
    cells_concerned,
    has_outcome,
    judge,
)
from matrixcheck.record.events import (
    Deferred,
    Found,
    JobOpened,
    Noted,
    Read,
    Recorded,
    Repaired,
    RoundEnded,
    RoundPaced,
    RoundStarted,
    SafetyChecked,
    Withdrawn,
)
from matrixcheck.record.job_state import FindingMade, JobState, NoteMade, Pace, RepairMade, Round, SafetyCheckMade


def replay(events: Iterable[Recorded], client: str = "") -> JobState:
    """Return the state after all events of one job, as a client sees it.

    Raises ValueError unless the first of them opened it.
    """
    ordered = iter(events)
    first = next(ordered, None)
    if first is None or not isinstance(first.event, JobOpened):
        raise ValueError("the events of a job begin with its opening")
    return advance(_opened(first, first.event, client), ordered)


def advance(state: JobState, events: Iterable[Recorded]) -> JobState:
    """Return the state after further events, of the same job and later than all that the state holds.

    What is withdrawn among them is never folded in. Only where they withdraw something that the state holds already,
    all that still counts is folded anew, once.
    """
    added = tuple(events)
    gone = withdrawn_by(added)
    folding = Folding(state)
    if gone and any(one.batch in gone for one in state.history):
        opening, *before = state.history
        folding = Folding(replay([opening], state.client))
        added = (*before, *added)
    for one in added:
        folding.take(one, counts=one.batch not in gone)
    return folding.state()


def withdrawn_by(events: Iterable[Recorded]) -> frozenset[int]:
    """Return the batches that these events withdraw."""
    return frozenset(one.event.batch for one in events if isinstance(one.event, Withdrawn))


class Folding:
    """A job's state while events are folded into it: each costs the same, however many there were."""

    def __init__(self, state: JobState) -> None:
        self._before = state
        self._seq = state.seq
        self._standings = dict(state.standings)
        self._evidence: dict[CellKey, Evidence] = {}
        self._resting: dict[str, Resting] = {}
        self._findings = {(one.place, one.check): one for one in state.findings}
        self._repairs: list[RepairMade] = []
        self._safety: list[SafetyCheckMade] = []
        self._notes: list[NoteMade] = []
        self._rounds = dict(state.rounds)
        self._coils = state.coils
        self._added: list[Recorded] = []
        self._touched: dict[str, frozenset[CellKey]] = {}

    def take(self, recorded: Recorded, counts: bool = True) -> None:
        """Fold in the next event; one that doesn't count only moves `seq` on, and so does a withdrawal."""
        self._seq = recorded.seq
        if counts and not isinstance(recorded.event, Withdrawn):
            self._added.append(recorded)
            self._change(recorded)

    def anyway(self, reading: Reading) -> frozenset[CellKey]:
        """Return what shows with nothing exercised under the switches held, as far as is known so far."""
        return self._at_rest(reading.matrix).anyway(reading.held)

    def state(self) -> JobState:
        """Return the state after what was taken."""
        before = self._before
        seen = {
            key: replace(self._standings[key], seen=tuple(evidence.seen)) for key, evidence in self._evidence.items()
        }
        at_rest = {name: resting.frozen() for name, resting in self._resting.items()}
        return replace(
            before,
            standings={**self._standings, **seen},
            at_rest={**before.at_rest, **at_rest},
            findings=tuple(self._findings.values()),
            repairs=(*before.repairs, *self._repairs),
            safety=(*before.safety, *self._safety),
            notes=(*before.notes, *self._notes),
            rounds=dict(self._rounds),
            coils=self._coils,
            history=(*before.history, *self._added),
            seq=self._seq,
        )

    def _change(self, recorded: Recorded) -> None:
        at, client = recorded.at, recorded.client
        match recorded.event:
            case Read(reading=reading):
                self._read(Seen(recorded.seq, at, reading))
                self._coils = coil_lock.seen(self._coils, reading, self._before.layout)
            case Deferred(cell=key, reason=reason):
                self._stand(replace(self._standings[key], deferred=reason))
            case Repaired(place=place, note=note):
                self._repaired(RepairMade(place, note, at, recorded.seq))
            case Found(finding=finding, note=note):
                place, check = finding.place, finding.check
                self._forget_findings(place, check)
                self._findings[place, check] = FindingMade(place, finding.verdict, note, at, check)
            case RoundStarted() as begun:
                self._rounds[client] = Round(
                    begun.matrix, begun.round, begun.held, at, recorded.seq, begun.cells, begun.manner
                )
            case RoundPaced(seconds=seconds, place=place, paused=paused) if client in self._rounds:
                self._rounds[client] = replace(self._rounds[client], pace=Pace(seconds, place, paused, at))
            case RoundEnded(round=seq):
                self._end_round(client, seq)
            case SafetyChecked(item=item, passed=passed, note=note):
                self._safety.append(SafetyCheckMade(item, passed, note, at))
                self._coils = coil_lock.checked(self._coils, item, passed)
            case Noted(text=text):
                self._notes.append(NoteMade(text, at))

    def _end_round(self, client: str, seq: int) -> None:
        """End the round that began at `seq`, whosever it is; where none is named, the client's own."""
        ended = [name for name, one in self._rounds.items() if (one.seq == seq if seq else name == client)]
        for name in ended:
            del self._rounds[name]

    def _read(self, seen: Seen) -> None:
        reading = seen.reading
        if reading.cell is None:
            self._at_rest(reading.matrix).add(seen)
            self._judge_again([reading.matrix])
            return
        self._of(reading.cell).add(seen)
        changes: dict[str, Any] = {"last_at": seen.at}
        if has_outcome(reading):
            changes["deferred"] = None
        self._stand(self._judged(reading.cell, **changes))

    def _repaired(self, repair: RepairMade) -> None:
        touched = self._touched_by(repair.place)
        self._repairs.append(repair)
        self._coils = coil_lock.repaired(self._coils, touched)
        self._forget_findings(repair.place)
        before = [standing for standing in self._standings.values() if self._tested(standing)]
        matrices = sorted({key.matrix for key in touched})
        for name in matrices:
            resting = self._at_rest(name)
            outdated = len(touched) > 1
            resting.rescan(
                [] if outdated else [one for one in resting.scans if cells_concerned(one.reading).isdisjoint(touched)]
            )
        self._judge_again(matrices)
        for standing in before:
            key = standing.cell.key
            changed = self._standings[key].mark is not standing.mark
            if changed or key in touched or not touched.isdisjoint(self._of(key).concerned):
                self._evidence[key] = Evidence(standing.cell)
                self._stand(_due(standing, repair.place))

    def _judge_again(self, matrices: Iterable[str]) -> None:
        judged = [self._judged(cell.key) for name in matrices for cell in self._before.layout.matrix(name).fitted]
        for one in judged:
            self._stand(one)

    def _judged(self, key: CellKey, **changes: Any) -> Standing:
        """Return how the cell stands with `changes` to its fields, judged from what was seen. A mark ends a retest."""
        standing = self._standings[key]
        judged = judge(standing.cell, self._of(key), self._at_rest(key.matrix))
        if judged.mark is not Mark.UNTESTED:
            changes |= {"retest_due": None, "before_repair": None}
        return replace(standing, **changes, **judged._asdict())

    def _stand(self, standing: Standing) -> None:
        key = standing.cell.key
        self._standings[key] = standing
        stuck = self._at_rest(key.matrix).stuck
        if standing.mark is Mark.STUCK:
            stuck.add(key)
        else:
            stuck.discard(key)

    def _tested(self, standing: Standing) -> bool:
        return standing.mark is not Mark.UNTESTED or bool(self._of(standing.cell.key).latest)

    def _of(self, key: CellKey) -> Evidence:
        found = self._evidence.get(key)
        if found is None:
            standing = self._standings[key]
            found = self._evidence[key] = Evidence(standing.cell, standing.seen)
        return found

    def _at_rest(self, matrix: str) -> Resting:
        found = self._resting.get(matrix)
        if found is None:
            found = self._resting[matrix] = Resting(self._before.at_rest[matrix])
        return found

    def _forget_findings(self, place: str, check: str = "") -> None:
        """Forget the findings that a later word on a place outdates.

        That one outdates those on the place and on its contacts; one of a named check its own.
        """
        self._findings = {
            (name, by): one
            for (name, by), one in self._findings.items()
            if place not in (name, owning_part(name)) or (check and by != check)
        }

    def _touched_by(self, place: str) -> frozenset[CellKey]:
        if place not in self._touched:
            self._touched[place] = cells_touched(self._before.layout, place)
        return self._touched[place]


def _opened(recorded: Recorded, event: JobOpened, client: str) -> JobState:
    fitted = [cell for matrix in event.layout.matrices for cell in matrix.fitted]
    return JobState(
        id=recorded.job,
        name=event.name,
        serial=event.serial,
        owner=event.owner,
        layout=event.layout,
        opened_at=recorded.at,
        standings={cell.key: Standing(cell) for cell in fitted},
        at_rest={matrix.id: AtRest() for matrix in event.layout.matrices},
        history=(recorded,),
        seq=recorded.seq,
        client=client,
    )


def _due(standing: Standing, place: str) -> Standing:
    """Return the cell with nothing said of it since the repair; what it was before is kept beside."""
    return Standing(
        standing.cell,
        deferred=standing.deferred,
        retest_due=place,
        before_repair=standing.mark,
        last_at=standing.last_at,
    )


def cells_touched(layout: Layout, place: str) -> frozenset[CellKey]:
    """Return the fitted cells that work on a place concerns.

    These are a cell itself, a line's cells, or those whose lines run through a part. None for a place that the layout
    doesn't know.
    """
    cells = [cell for matrix in layout.matrices for cell in matrix.fitted]
    if (key := parse_cell(place, "")) is not None:
        return frozenset(cell.key for cell in cells if cell.key == key)
    if (line := parse_line(place, "")) is not None:
        return frozenset(cell.key for cell in cells if line in (cell.row_line, cell.column_line))
    return frozenset(cell.key for cell in cells if place in layout.path_parts(cell.key))
