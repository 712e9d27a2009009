"""Folding a job's events into its state, one after the other.

A repair outdates earlier bench checks of the same place, the rest scans that showed a cell on its path where it had no
business, and all that was read of a cell
- whose lines run through the repaired part, or that was repaired itself, or whose line was;
- one of whose readings showed such a cell as echo, misreport or glow;
- that stands otherwise without the scans that are outdated.
Such a cell is due for a retest and stands untested until then. Every other cell stands as it stood.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import partial
from typing import Any

from msgspec.structs import replace

from matrixcheck.layout.designators import owner as owning_part
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record import coil_lock
from matrixcheck.record.cell_state import (
    Evidence,
    Resting,
    Seen,
    Standing,
    has_outcome,
    judge,
    mark_of,
)
from matrixcheck.record.events import (
    Accepted,
    Deferred,
    Found,
    FunctionChecked,
    JobArchived,
    JobClosed,
    JobEdited,
    JobReopened,
    Noted,
    PhotoTaken,
    Read,
    Recorded,
    Repaired,
    Restored,
    RoundEnded,
    RoundPaced,
    RoundStarted,
    SafetyChecked,
    Withdrawn,
)
from matrixcheck.record.job_state import (
    FindingMade,
    FunctionCheckMade,
    JobState,
    NoteMade,
    Pace,
    PhotoMade,
    RepairMade,
    Round,
    SafetyCheckMade,
)
from matrixcheck.record.outdated import (
    AtRestNow,
    cells_touched,
    due_again,
    is_outdated,
    out_of_place,
    resistance_alone,
    showed_out_of_place,
    still_speaking,
)


def steers(recorded: Recorded) -> bool:
    """Return whether an event only says which others count."""
    return isinstance(recorded.event, Withdrawn | Restored)


class Folding:
    """A job's state while events are folded into it: each costs the same, however many there were."""

    def __init__(self, state: JobState) -> None:
        self._before = state
        self._seq = state.seq
        self._standings = dict(state.standings)
        self._evidence: dict[CellKey, Evidence] = {}
        self._resting: dict[str, Resting] = {}
        self._findings = {one.key: one for one in state.findings}
        self._repairs = {one.seq: one for one in state.repairs}
        self._safety: list[SafetyCheckMade] = []
        self._functions: list[FunctionCheckMade] = []
        self._notes: list[NoteMade] = []
        self._photos: list[PhotoMade] = []
        self._rounds = dict(state.rounds)
        self._coils = state.coils
        self._about: dict[str, Any] = {}
        self._added: list[Recorded] = []
        self._struck: list[Recorded] = []
        self._touched: dict[str, frozenset[CellKey]] = {}

    def take(self, recorded: Recorded, counts: bool = True) -> None:
        """Fold in the next event.

        One that doesn't count is only kept beside, and so is what says which others count.
        """
        self._seq = recorded.seq
        if counts and not steers(recorded):
            self._added.append(recorded)
            self._change(recorded)
        else:
            self._struck.append(recorded)

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
            repairs=tuple(self._repairs.values()),
            safety=(*before.safety, *self._safety),
            functions=(*before.functions, *self._functions),
            notes=(*before.notes, *self._notes),
            photos=(*before.photos, *self._photos),
            rounds=dict(self._rounds),
            coils=self._coils,
            **self._about,
            history=(*before.history, *self._added),
            struck=(*before.struck, *self._struck),
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
            case Accepted(cell=key, note=note, back=back):
                self._standings[key] = replace(self._standings[key], accepted=None if back else note)
                self._stand(self._judged(key))
            case Repaired() as done:
                self._repaired(repair_made(done, at, recorded.seq))
            case Found(finding=finding, note=note):
                self._found(FindingMade(finding, note, at))
            case RoundStarted() as begun:
                self._rounds[client] = Round(
                    begun.matrix, begun.round, begun.held, at, recorded.seq, begun.cells, begun.manner
                )
            case RoundPaced(seconds=seconds, place=place, paused=paused) if client in self._rounds:
                self._rounds[client] = replace(self._rounds[client], pace=Pace(seconds, place, paused, at))
            case RoundEnded(round=seq):
                self._end_round(client, seq)
            case SafetyChecked(item=item, passed=passed) as made:
                self._safety.append(safety_made(made, at))
                self._coils = coil_lock.checked(self._coils, item, passed)
            case FunctionChecked() as made:
                self._functions.append(function_made(made, at))
            case Noted() | PhotoTaken() as noted:
                self._note(noted, at, recorded.seq)
            case JobEdited() | JobClosed() | JobReopened() | JobArchived():
                self._about |= _about(recorded.event)

    def _note(self, noted: Noted | PhotoTaken, at: datetime, seq: int) -> None:
        if isinstance(noted, Noted):
            self._notes.append(NoteMade(noted.text, at, seq))
        else:
            self._photos.append(photo_made(noted, at, seq))

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
        self._repairs[repair.seq] = repair
        if repair.outside:
            return
        touched = self._touched_by(repair.place)
        self._coils = coil_lock.repaired(self._coils, touched)
        self._findings = {
            key: one
            for key, one in self._findings.items()
            if not is_outdated(one.finding, repair.place, self._touched_by)
        }
        due: list[CellKey] = []
        for name in sorted({key.matrix for key in touched}):
            due += self._outdate(name, touched, repair)
        self._repairs[repair.seq] = replace(repair, due=frozenset(due))

    def _outdate(self, name: str, touched: frozenset[CellKey], repair: RepairMade) -> list[CellKey]:
        """Outdate what was read in one matrix before a repair; return the cells that are due for a retest now."""
        before = [self._standings[cell.key] for cell in self._before.layout.matrix(name).fitted]
        resting = self._at_rest(name)
        was = Resting(resting.frozen(), resting.closed)
        anyway = AtRestNow(was.closed, lambda reading: was.closed | was.anyway(reading.held))
        odd = [out_of_place(scan.reading, was.closed) for scan in was.scans]
        resting.rescan([scan for scan, shown in zip(was.scans, odd, strict=True) if shown.isdisjoint(touched)])
        resting.repaired = repair.seq
        stale = touched.union(*(shown for shown in odd if not shown.isdisjoint(touched)))
        due = []
        for standing in before:
            key = standing.cell.key
            evidence = self._of(key)
            showed = not evidence.named.isdisjoint(touched) and showed_out_of_place(evidence.seen, touched, anyway)
            if key in touched or showed or self._stands_otherwise(standing):
                tested = standing.retest_due is not None or standing.mark is not Mark.UNTESTED or bool(evidence.latest)
                self._forget(standing, repair, due=tested)
                due += [key] * tested
            elif not evidence.named.isdisjoint(stale):
                mark = partial(mark_of, standing.cell, at_rest=was, since=standing.since)
                self._evidence[key] = Evidence(standing.cell, still_speaking(evidence.seen, stale, anyway, mark))
        self._judge_again([name])
        return due

    def _stands_otherwise(self, standing: Standing) -> bool:
        """Return whether the cell stands otherwise now that rest scans are outdated."""
        now = self._judged(standing.cell.key)
        return (now.mark, now.intermittent) != (standing.mark, standing.intermittent)

    def _forget(self, standing: Standing, repair: RepairMade, due: bool) -> None:
        """Forget what was seen of a cell. The resistance of a device stays as it was, unless that was repaired."""
        key = standing.cell.key
        measured = [] if repair.place == str(key) else [resistance_alone(one) for one in self._of(key).seen]
        self._evidence[key] = Evidence(standing.cell, filter(None, measured))
        fresh = Standing(standing.cell, deferred=standing.deferred, last_at=standing.last_at, since=repair.seq)
        fresh = replace(fresh, accepted=standing.accepted)
        self._stand(due_again(standing, fresh, repair) if due else fresh)

    def _judge_again(self, matrices: Iterable[str]) -> None:
        judged = [self._judged(cell.key) for name in matrices for cell in self._before.layout.matrix(name).fitted]
        for one in judged:
            self._stand(one)

    def _judged(self, key: CellKey, **changes: Any) -> Standing:
        """Return how the cell stands with `changes` to its fields, judged from what was seen.

        A mark ends a retest; one that takes several passes goes on until it has them.
        """
        standing, evidence = self._standings[key], self._of(key)
        judged = judge(
            standing.cell,
            evidence,
            self._at_rest(key.matrix),
            standing.since,
            may_glow=standing.accepted is not None,
        )
        passes = judged.mark is Mark.WORKING and not judged.intermittent
        if passes and standing.retest_due is not None and evidence.outcomes < standing.passes_needed:
            judged = judged._replace(mark=Mark.UNTESTED)
        elif judged.mark is not Mark.UNTESTED:
            changes |= {"retest_due": None, "before_repair": None, "passes_needed": 1}
        return replace(standing, **changes, **judged._asdict())

    def _stand(self, standing: Standing) -> None:
        key = standing.cell.key
        self._standings[key] = standing
        stuck = self._at_rest(key.matrix).stuck
        if standing.mark is Mark.STUCK:
            stuck.add(key)
        else:
            stuck.discard(key)
        if standing.mark is not Mark.UNTESTED:
            self._retested(standing)

    def _retested(self, standing: Standing) -> None:
        """Tell the repairs that made the cell due how its retest went."""
        key = standing.cell.key
        works = standing.mark is Mark.WORKING and not (standing.echoed or standing.answered_instead)
        well = standing.normal or (works and not standing.intermittent)
        for seq in standing.repaired_by:
            repair = self._repairs[seq]
            if key not in (repair.passed if well else repair.failed):
                passed, failed = repair.passed - {key}, repair.failed - {key}
                self._repairs[seq] = replace(
                    repair, passed=passed | {key} if well else passed, failed=failed if well else failed | {key}
                )

    def _of(self, key: CellKey) -> Evidence:
        found = self._evidence.get(key)
        if found is None:
            standing = self._standings[key]
            found = self._evidence[key] = Evidence(standing.cell, standing.seen)
        return found

    def _at_rest(self, matrix: str) -> Resting:
        found = self._resting.get(matrix)
        if found is None:
            cells = self._before.layout.matrix(matrix).fitted
            closed = [cell.key for cell in cells if cell.notes.rest == "closed"]
            found = self._resting[matrix] = Resting(self._before.at_rest[matrix], closed)
        return found

    def _found(self, made: FindingMade) -> None:
        """Keep a finding. One of no named check outdates all that were recorded of its place without a code."""
        if not made.finding.code and not made.check:
            self._findings = {
                key: one
                for key, one in self._findings.items()
                if one.finding.code or made.place not in (one.place, owning_part(one.place))
            }
        self._findings.pop(made.key, None)
        self._findings[made.key] = made

    def _touched_by(self, place: str) -> frozenset[CellKey]:
        if place not in self._touched:
            self._touched[place] = cells_touched(self._before.layout, place)
        return self._touched[place]


def photo_made(event: PhotoTaken, at: datetime, seq: int) -> PhotoMade:
    """Return a photo as a job's state has it."""
    return PhotoMade(
        event.photo,
        event.width,
        event.height,
        event.size,
        event.place,
        event.safety,
        event.check,
        event.note,
        event.caption,
        at,
        seq,
    )


def safety_made(event: SafetyChecked, at: datetime) -> SafetyCheckMade:
    """Return a safety check as the state keeps it."""
    return SafetyCheckMade(
        event.item,
        event.passed,
        event.note,
        at,
        event.waived,
        event.reading,
        event.limit,
        event.unit,
        event.source,
    )


def function_made(event: FunctionChecked, at: datetime) -> FunctionCheckMade:
    """Return a line of the rest of the test mode as the state keeps it."""
    return FunctionCheckMade(event.section, event.item, event.verdict, event.note, at)


def repair_made(event: Repaired, at: datetime, seq: int) -> RepairMade:
    """Return a repair as the state keeps it, before it makes anything due."""
    return RepairMade(event.place, event.note, at, seq, event.did, event.fitted, event.value, event.outside)


def _about(event: JobEdited | JobClosed | JobReopened | JobArchived) -> dict[str, Any]:
    """Return the fields of the state that an event about the job as a whole sets."""
    match event:
        case JobEdited(name=name, serial=serial, owner=owner):
            edited = {"name": name, "serial": serial, "owner": owner}
            return {field: text for field, text in edited.items() if text is not None}
        case JobClosed(verdict=verdict):
            return {"verdict": verdict}
        case JobReopened():
            return {"verdict": None}
        case JobArchived(hidden=hidden):
            return {"archived": hidden}
