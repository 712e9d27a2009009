"""Use cases that record: what was seen, found and done, and what of it no longer counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from msgspec.structs import replace

from matrixcheck.bench.book import Book
from matrixcheck.errors import UsageError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.layout.source import LayoutSource
from matrixcheck.record.answers import Kept, LastEntry, Undone, cell_of, counted_in_one, kept, words_and_cells
from matrixcheck.record.corrections import corrected_by, correction_of
from matrixcheck.record.entry import Verb, parse_entries, parse_places
from matrixcheck.record.entry_events import events_of, in_round
from matrixcheck.record.events import (
    Accepted,
    Deferred,
    Event,
    Found,
    Noted,
    Repaired,
    Restored,
    RoundKind,
    RoundStarted,
    WalkManner,
    Withdrawn,
)
from matrixcheck.record.folding import repair_made
from matrixcheck.record.job_state import JobState, RepairMade
from matrixcheck.record.readings import check_reading
from matrixcheck.record.round_events import ended, paced, started
from matrixcheck.record.validation import guard_accepted, nothing_left, one_line, restorable, strikable, undoable
from matrixcheck.record.withdrawals import withdrawal


class Recording(Book):
    """What can be recorded of a job."""

    def mark(self, job: str, matrix_id: str, text: str, *, send: str = "") -> tuple[Kept, ...]:
        """Keep a line in the entry notation (see `record/entry.py`; `record/entry_events.py` says what it records).

        In a round it corrects what that round kept of the same cell before (`record/corrections.py`). All of it is kept
        in one transaction, or, with an InputError, none.
        """

        unsteady: set[CellKey] = set()

        def events(state: JobState) -> list[Event]:
            entries = parse_entries(text, state.layout.matrix(matrix_id))
            unsteady.update(entry.cell for entry in entries if entry.verb is Verb.UNSTEADY)
            typed = [event for entry in entries for event in events_of(entry, state)]
            slips = (slip for one in typed for slip in corrected_by(one, state))
            return [*dict.fromkeys(slips), *typed]

        found = self._keep_each(job, events, send)
        last = {one.cell: one.seq for one in found}
        return tuple(one for one in found if one.cell not in unsteady or one.seq == last[one.cell])

    def differed(self, job: str, cell: CellKey, *, send: str = "") -> tuple[Kept, ...]:
        """Let the reading of a cell count again that this client's round corrected last: the cell behaved differently.

        Raises UsageError where the round corrected nothing of it.
        """

        def events(state: JobState) -> list[Event]:
            return [Restored(withdrawal=correction_of(state, cell).seq)]

        self._keep(job, events, send)
        state = self.state(job)
        newest = next(one for one in reversed(state.history) if cell_of(one.event) == cell)
        return (kept(newest, state, state),)

    def take_readings(self, job: str, readings: Iterable[Reading], *, send: str = "") -> tuple[Kept, ...]:
        """Keep readings, all in one transaction. Raises InputError, keeping none, where one can't be taken."""
        taken = tuple(readings)
        # Before the book is locked: a job keeps its layout, and many readings take their time.
        layout = self.state(job).layout
        for reading in taken:
            check_reading(reading, layout)
        return self._keep_each(job, lambda state: [in_round(reading, state) for reading in taken], send)

    def rest_scan(self, job: str, matrix_id: str, text: str = "", *, send: str = "") -> tuple[Kept, ...]:
        """Keep a rest scan: `text` lists every cell that shows, by number or address, empty for none.

        In this client's hold round of that matrix its held switches count as held, and belong in the list where they
        show.
        """

        def events(state: JobState) -> list[Event]:
            matrix = state.layout.matrix(matrix_id)
            held = state.round.held if state.round is not None and state.round.matrix == matrix_id else ()
            return [in_round(Reading(matrix=matrix_id, held=held, answered=parse_places(text, matrix)), state)]

        return self._keep_each(job, events, send)

    def defer(self, job: str, cells: Iterable[CellKey], reason: str, *, send: str = "") -> tuple[Kept, ...]:
        """Put cells off, with the reason; an empty one is filled in from the layout's reach."""
        put_off = tuple(cells)
        said = one_line(reason, "the reason", empty=True)

        def events(state: JobState) -> list[Event]:
            fitted = [state.layout.cell(key) for key in put_off]
            return [Deferred(cell=cell.key, reason=said or cell.notes.reach) for cell in fitted]

        return self._keep_each(job, events, send)

    def accept(
        self, job: str, cells: Iterable[CellKey], note: str = "", *, back: bool = False, send: str = ""
    ) -> tuple[Kept, ...]:
        """Keep that the glow of lamps that stand stuck is normal on this machine; `back` takes that back.

        Raises UsageError for a cell that doesn't glow at rest, or of which nothing was accepted.
        """
        glowing = tuple(dict.fromkeys(cells))
        said = one_line(note, "the note", empty=True)

        def events(state: JobState) -> list[Event]:
            for key in glowing:
                guard_accepted(state, key, back)
            return [Accepted(cell=key, note=said, back=back) for key in glowing]

        return self._keep_each(job, events, send)

    def undo(
        self,
        job: str,
        batch: int | None = None,
        *,
        event: int | None = None,
        since: int = 0,
        within: str = "",
        send: str = "",
    ) -> Undone:
        """Withdraw what this client recorded last: everything of one line, file or use case together.

        Repeated, it goes on backwards. Rounds stay as they are. With `batch`, withdraw that entry, whoever recorded it;
        with `event`, strike out that one event, by its number within the job. With `since`, stop at what was recorded
        up to the event of that seq; with `within`, raise UndoElsewhereError where the last entry is of another matrix.
        Raises UsageError when nothing is left to undo, or what is named no longer counts.
        """

        def events(state: JobState) -> list[Event]:
            if event is None:
                return [Withdrawn(batch=undoable(state, batch, since, within))]
            return [withdrawal(state.counting, strikable(state, event))]

        recorded, before, after = self._keep(job, events, send)
        gone, back = counted_in_one(before, after), counted_in_one(after, before)
        what, cells = words_and_cells(gone, after, before)
        what = (*what, *_files_left(before.source, after.source))
        return Undone(recorded[-1].seq, what, cells, words_and_cells(back, after)[0])

    def redo(self, job: str, *, event: int | None = None, send: str = "") -> Undone:
        """Take back this client's last undo, as long as it recorded nothing since; repeated, the one before.

        With `event`, take back the undo of that event, by its number within the job. Raises UsageError where there is
        nothing to redo.
        """

        def events(state: JobState) -> list[Event]:
            return [Restored(withdrawal=restorable(state, event).seq)]

        recorded, before, after = self._keep(job, events, send)
        gone, back = counted_in_one(before, after), counted_in_one(after, before)
        return Undone(recorded[-1].seq, *words_and_cells(back, after), words_and_cells(gone, after, before)[0])

    def last_entry(self, job: str) -> LastEntry:
        """Return what was recorded last and not withdrawn, whichever client did.

        Raises UsageError where there is nothing.
        """
        state = self.state(job)
        last = state.last_of_all
        if last is None:
            raise nothing_left()
        words, _ = words_and_cells(tuple(one for one in state.counting if one.batch == last.batch), state)
        return LastEntry(last.batch, last.client, last.initials, words)

    def note(self, job: str, text: str, *, send: str = "") -> None:
        """Keep a note."""
        said = one_line(text, "the note")
        self._keep(job, lambda _: [Noted(text=said)], send)

    def start_round(
        self,
        job: str,
        matrix_id: str,
        kind: RoundKind,
        held: Iterable[CellKey] = (),
        *,
        cells: Iterable[CellKey] = (),
        manner: WalkManner = "stepped",
        send: str = "",
    ) -> None:
        """Start a round through a matrix, or through some cells of it; this client's open one ends.

        Only a hold round holds switches, and it holds some; only a walk has a manner of its own.
        """
        begun = RoundStarted(
            matrix=matrix_id,
            round=kind,
            held=tuple(dict.fromkeys(held)),
            cells=tuple(dict.fromkeys(cells)),
            manner=manner,
        )
        self._keep(job, lambda state: started(begun, state), send)

    def pace(self, job: str, seconds: float, place: int, paused: bool = False, *, send: str = "") -> None:
        """Keep the timing of this client's timed walk.

        Now it shows the device at `place`, from 0, and goes on every `seconds` unless it is paused. Raises UsageError
        when no timed walk is open or no walk goes so.
        """
        self._keep(job, lambda state: [paced(state, seconds, place, paused)], send)

    def end_round(self, job: str, *, send: str = "") -> None:
        """End this client's open round. Raises UsageError when there is none."""
        self._keep(job, lambda state: [ended(state)], send)

    def finding(self, job: str, finding: Finding, note: str = "", *, send: str = "") -> None:
        """Keep what a bench check said of a place; the verdict `replaced` is a repair.

        Raises UsageError for a kind of check that there isn't.
        """
        if finding.check:
            from matrixcheck.diagnosis.machine.prior_updates import guard_check  # noqa: PLC0415

            guard_check(finding.check)
        if finding.verdict == "replaced":
            self.repair(job, finding.place, note, send=send)
            return
        said = one_line(note, "the note", empty=True)

        from matrixcheck.layout.naming import place_named  # noqa: PLC0415 - a paint can't wait

        def events(state: JobState) -> list[Event]:
            place = place_named(finding.place, state.layout)
            return [Found(finding=replace(finding, place=place), note=said)]

        self._keep(job, events, send)

    def checked(self, job: str, code: str, said: str, note: str = "", *, send: str = "") -> tuple[Finding, str]:
        """Keep what a bench check found, by its code: good, faulty, or a value; return it, and what follows in words.

        Raises UsageError for a check that the layout doesn't have, and for a value that can't be read or judged.
        """
        from matrixcheck.diagnosis.advice.bench_checks.by_code import finding_of  # noqa: PLC0415

        finding, follows = finding_of(self.state(job).layout, code, said)
        self.finding(job, finding, note, send=send)
        return finding, follows

    def repair(
        self,
        job: str,
        place: str,
        note: str = "",
        *,
        did: str = "",
        fitted: str = "",
        value: str = "",
        outside: bool = False,
        send: str = "",
    ) -> RepairMade:
        """Keep that a place was repaired; return the repair with the cells that are due for a retest now.

        The place is a part, a line or a cell, by any name that the program writes it with (`layout/naming.py`). One
        `outside` the layout is taken as it is named, and it has to be said what was done. `fitted` is what was put in,
        `value` its rating or what was measured.
        """
        from matrixcheck.layout.naming import place_named  # noqa: PLC0415 - likewise

        said = one_line(note, "the note", empty=True)
        done = one_line(did, "what was done", empty=not outside)
        new, reads = one_line(fitted, "what was fitted", empty=True), one_line(value, "the value", empty=True)

        def events(state: JobState) -> list[Event]:
            what = one_line(place, "what was repaired") if outside else place_named(place, state.layout)
            return [Repaired(place=what, note=said, did=done, fitted=new, value=reads, outside=outside)]

        recorded, _, state = self._keep(job, events, send)
        (kept,) = recorded
        assert isinstance(kept.event, Repaired)
        # Sent again after an undo, the repair counts no more.
        gone = repair_made(kept.event, kept.at, kept.seq)
        return next((one for one in state.repairs if one.seq == kept.seq), gone)

    def start_retest(self, job: str, matrix_id: str = "") -> tuple[str, tuple[CellKey, ...]]:
        """Start a walk through just the cells of a matrix that are due for a retest, and return both.

        Without a matrix, the first that has such cells. Raises UsageError where none is due.
        """
        state = self.state(job)
        matrices = [state.layout.matrix(matrix_id).id] if matrix_id else state.layout.matrix_ids
        due = {name: tuple(key for key in state.due if key.matrix == name) for name in matrices}
        found = next((name for name, cells in due.items() if cells), None)
        if found is None:
            raise UsageError(f"no cell{f' of {matrix_id}' if matrix_id else ''} is due for a retest", "see `later`")
        self.start_round(job, found, "walk", cells=due[found])
        return found, due[found]

    def _keep_each(self, job: str, events_for: Callable[[JobState], Sequence[Event]], send: str) -> tuple[Kept, ...]:
        recorded, before, after = self._keep(job, events_for, send)
        slips = {cell_of(one.event) for one in counted_in_one(before, after)}
        return tuple(
            replace(kept(one, before, after), corrected=cell_of(one.event) in slips)
            for one in recorded
            if not isinstance(one.event, Withdrawn)
        )


def _files_left(before: LayoutSource, after: LayoutSource) -> tuple[str, ...]:
    """Say of a layout's file that an undo in the job leaves it as it is, where the job's layout was read anew."""
    name = Path(before.file).name
    return (f"{name} is not changed back",) if before != after and name else ()
