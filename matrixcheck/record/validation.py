"""What must hold of words, holds and places before they are recorded. All raise UsageError, with what to do instead."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.errors import UsageError
from matrixcheck.layout.limits import LARGEST_NUMBER, STEP_SECONDS
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey, parse_cell, parse_line
from matrixcheck.layout.problems import is_seen, nearest, shown, visible
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import cell_words
from matrixcheck.record.answers import matrix_of, words_and_cells
from matrixcheck.record.coil_lock import COIL_FUSE_OUT, FUSE_IS_OUT, SWITCH_OFF_NOW, CoilLock
from matrixcheck.record.events import Recorded, RoundKind, WalkManner
from matrixcheck.record.job_state import JobState
from matrixcheck.record.outdated import cells_touched
from matrixcheck.record.withdrawals import redoable, undo_of

LONGEST_TEXT = 2_000


class UndoElsewhereError(UsageError):
    """An undo would withdraw what was recorded in another matrix: `batch` in the matrix `where`, in words `what`."""

    def __init__(self, batch: int, where: str, what: tuple[str, ...]) -> None:
        self.batch = batch
        self.where = where
        self.what = what
        super().__init__(f"the last entry is in {where}: {'; '.join(what)}", "go there to undo it")


def one_line(text: str, what: str, empty: bool = False) -> str:
    """Return the text in one line of what can be seen, empty where nothing of it can.

    Raises UsageError when that may not be, or when it is too long or no sound text.
    """
    try:
        text.encode()
    except UnicodeEncodeError:
        raise UsageError(f"{what} is not valid text", "type it again") from None
    line = " ".join(visible(text).split())
    if not any(map(is_seen, line)):
        line = ""
    if not line and not empty:
        raise UsageError(f"{what} is empty", "type a few words")
    if len(line) > LONGEST_TEXT:
        raise UsageError(f"{what} has {len(line)} characters", f"keep it within {LONGEST_TEXT}")
    return line


def guard_held(matrix: Matrix, kind: RoundKind, held: Sequence[CellKey]) -> None:
    if (kind == "hold") is not bool(held):
        raise UsageError(
            f"a {kind} round with {len(held)} held switches", "only a hold round holds switches, and it holds some"
        )
    if held and matrix.kind is not Kind.SWITCH:
        raise UsageError(f"{matrix.id} is a {matrix.kind} matrix", "only switches can be held")
    for key in held:
        if key not in matrix.by_key:
            raise UsageError(f"nothing is fitted at {key}", f"hold fitted cells of {matrix.id}")


def guard_fitted(matrix: Matrix, cells: Sequence[CellKey]) -> None:
    """Raise UsageError where nothing is fitted at one of these places."""
    for key in cells:
        if key not in matrix.by_key:
            raise UsageError(f"nothing is fitted at {key.address}", f"name fitted cells of {matrix.id}")


def guard_round(matrix: Matrix, kind: RoundKind, cells: Sequence[CellKey], manner: WalkManner) -> None:
    """Raise UsageError unless a round may go so: over fitted cells of its matrix, and in a manner only as a walk."""
    for key in cells:
        if key not in matrix.by_key:
            raise UsageError(f"nothing is fitted at {key}", f"go through fitted cells of {matrix.id}")
    if manner != "stepped" and kind != "walk":
        raise UsageError(f"a {kind} round can't be {manner}", "only a walk can")


def guard_pace(seconds: float, place: int) -> None:
    """Raise UsageError unless a machine may step that often, and be at that device of a round."""
    if not STEP_SECONDS.holds(seconds):
        raise UsageError(f"a walk steps every {STEP_SECONDS}, not {shown(seconds)}", "tap the steps again")
    if not 0 <= place <= LARGEST_NUMBER:
        raise UsageError(f"no round has a device {shown(place)}", "go back to the device that the machine shows")


def guard_power(lock: CoilLock, matrix: Matrix, kind: RoundKind) -> None:
    """Raise UsageError where a coil on at rest forbids a round."""
    if lock.stop:
        raise UsageError(SWITCH_OFF_NOW, f'then record the safety check "{COIL_FUSE_OUT}" as passed')
    if not lock.allows(matrix.id, rest_scan=kind == "rest"):
        first = "make a rest scan of it first" if lock.repaired else "find the short, and record the repair"
        raise UsageError(f"{matrix.id}: a coil was on at rest. {FUSE_IS_OUT}", first)


def guard_accepted(state: JobState, key: CellKey, back: bool) -> None:
    """Raise UsageError unless the glow of a cell may be called normal: a lamp that stands stuck; or taken back."""
    cell, standing = state.layout.cell(key), state.standings[key]
    name = cell_words(state.layout, key)
    if back:
        if standing.accepted is None:
            raise UsageError(f"nothing of {name} is accepted as normal", "only what was accepted can be counted again")
    elif not cell.lights:
        raise UsageError(f"{name} is no lamp", "only a lamp's glow can be normal; repair what is stuck")
    elif standing.mark is not Mark.STUCK:
        raise UsageError(
            f"{name} stands {standing.mark}, not lit at rest", "make a rest scan, or mark it stuck, and accept it then"
        )


def guard_place(place: str, layout: Layout) -> None:
    """Raise UsageError unless the layout knows the place, so that a slip of the finger clears or outdates nothing."""
    if cells_touched(layout, place) or place in layout.part_by_ref:
        return
    key = parse_cell(place, "") or parse_line(place, "")
    if key is not None:
        raise UsageError(
            f"'{layout.name}' has no {shown(place)}", "name a fitted cell or a line, as in 'switch column 3'"
        )
    near = nearest(place, {*layout.lines_through, *layout.part_by_ref})
    hint = f"did you mean {near}?" if near else "name a part on a path of the layout, or keep a note instead"
    raise UsageError(f"'{layout.name}' has no part {shown(place)}", hint)


def undoable(state: JobState, batch: int | None, since: int = 0, within: str = "") -> int:
    """Return the batch that an undo may withdraw: the one named, or the last of the client.

    Raises UsageError for none, and where nothing of it was recorded after the event `since`; UndoElsewhereError where
    the last of the client tells of another matrix than the one it has to lie `within`.
    """
    if batch is None:
        batch = state.last_undoable
        if batch is not None and not any(one.seq > since for one in state.counting if one.batch == batch):
            batch = None
        if batch is None and since:
            raise UsageError("nothing of this round is left to undo", "end the round to undo what came before it")
        if batch is not None and within:
            _guard_within(state, batch, within)
        if batch is None and state.last_of_all is not None:
            raise UsageError(
                "you have nothing left to undo", f"`matrixcheck undo {state.id}` undoes what others recorded"
            )
        if batch is None:
            raise nothing_left()
    elif not any(one.batch == batch and one.event.undoable for one in state.counting):
        raise UsageError("that entry is undone already", "look at the history, then undo again")
    return batch


def _guard_within(state: JobState, batch: int, matrix_id: str) -> None:
    together = tuple(one for one in state.counting if one.batch == batch)
    elsewhere = {matrix for one in together if (matrix := matrix_of(one.event))} - {matrix_id}
    if elsewhere:
        words, _ = words_and_cells(together, state)
        raise UndoElsewhereError(batch, ", ".join(sorted(elsewhere)), words)


def strikable(state: JobState, number: int) -> Recorded:
    """Return the event of that number within the job, where an undo may strike it out. Raises UsageError for none."""
    one = event_numbered(state, number)
    if not one.event.undoable:
        raise UsageError(f"event {number} can't be undone: {one.event.kind}", "undo a reading, check or repair instead")
    if any(each.seq == one.seq for each in state.struck):
        raise UsageError(f"event {number} no longer counts", f"`matrixcheck log {state.id}` shows what does")
    return one


def restorable(state: JobState, number: int | None) -> Recorded:
    """Return the undo that a redo may take back: the client's last one, or that of the event `number`.

    Raises UsageError for none.
    """
    if number is None:
        found = redoable(state.everything, state.client)
        if found is None:
            raise UsageError("there is nothing to redo", "only what you undid last, before you recorded anything else")
        return found
    found = undo_of(state.everything, event_numbered(state, number).seq)
    if found is None:
        raise UsageError(f"event {number} is not undone", f"`matrixcheck log {state.id}` shows what is")
    return found


def event_numbered(state: JobState, number: int) -> Recorded:
    """Return the event of that number within the job. Raises UsageError for none."""
    events = state.everything
    if not 1 <= number <= len(events):
        raise UsageError(
            f"job {state.id} has no event {shown(number)}", f"it has 1 to {len(events)}; `matrixcheck log` lists them"
        )
    return events[number - 1]


def nothing_left() -> UsageError:
    """Return the error where a job holds nothing that an undo could withdraw."""
    return UsageError("nothing is left to undo", "everything in the job is undone already")
