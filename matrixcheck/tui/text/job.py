"""What the job screen says at its head and about entries."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from matrixcheck.bench import Kept, Undone
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import short_words
from matrixcheck.record.cell_state import Standing, Standings
from matrixcheck.record.entry import Entry, Verb, parse_entries
from matrixcheck.record.job_state import JobState
from matrixcheck.report.glyphs import GLYPHS
from matrixcheck.report.safety import failed_briefly
from matrixcheck.report.stop import brief_notice
from matrixcheck.tui.actions import JOB
from matrixcheck.tui.keymap import Keymap, key_named
from matrixcheck.tui.text.number_keys import pressed
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.text.waiting import now_in

SAYS = {
    Verb.WORKING: "working",
    Verb.DEAD: "dead",
    Verb.STUCK: "stuck",
    Verb.LATER: "later",
    Verb.OHMS: "ohms",
    Verb.UNSTEADY: "flickers, comes and goes",
}

NAMED = 3
"""Cells that were something else before and are named, where many are kept at once."""
FIRST_HINT_ON_A_PHONE = "tap a cell, then what it is; or start a round; more shows everything else"


def first_hint(keymap: Keymap, matrix: Matrix) -> str:
    """Say how to begin. An action whose key is a number of the matrix goes unsaid; it can be tapped."""
    dead, stuck = key_named("dead", JOB, keymap), key_named("stuck", JOB, keymap)
    others = (("safety", "checks before power"), ("round", "a round"), ("help", "every key"))
    said = ((pressed(key_named(name, JOB, keymap), matrix), does) for name, does in others)
    keys = "".join(f"; {key} {does}" for key, does in said if key)
    return f"arrows move, Enter {dead} {stuck} mark; or type a number{keys}"


def retests(count: int, keymap: Keymap, matrix: Matrix) -> str:
    """Say how many cells are to be tested again."""
    key = pressed(key_named("retest", JOB, keymap), matrix)
    return f"{count} to test again after a repair: {f'{key} walks through them' if key else 'see the later list'}"


def headline(state: JobState, elsewhere: str = "", news: str = "") -> tuple[Row, ...]:
    """Return the job in one line; where a coil was on at rest or a check before power failed, that comes first.

    `elsewhere` is the book that it went on in. `news`, what became of its layout's file, is a line of its own.
    """
    parts = [now_in(elsewhere), state.layout.name, state.serial and f"serial {state.serial}", state.owner]
    about = " · ".join(filter(None, parts))
    more: tuple[Row, ...] = (((news, "quiet"),),) if news else ()
    return ((*danger_first(state), (state.name, "title"), (f"  {about}", "quiet")), *more)


def danger_first(state: JobState) -> Row:
    """Return what stands first at the head of every screen of a job.

    That is a coil that was on at rest, and a check before power that failed; nothing where all is well.
    """
    danger = " ".join(filter(None, (brief_notice(state.coils), failed_briefly(state.safety))))
    return ((danger, "alert"), ("  ", "plain")) if danger else ()


def preview(text: str, matrix: Matrix) -> str:
    """Return what an entry would do, while it is being typed; nothing while it can't be read."""
    try:
        entries = parse_entries(text, matrix)
    except MatrixCheckError:
        return ""
    first, count = entries[0], len(entries)
    more = f" and {count - 1} more" if count > 1 else ""
    return f"Enter keeps {_said(first, matrix)}{more}"


def kept_words(kept: Sequence[Kept], standings: Standings) -> str:
    """Call back what was kept, by name: of one cell all that was typed, of several how many are what."""
    if not kept:
        return ""
    last = kept[-1]
    if last.number is None or last.cell is None:
        return f"kept: {last.name}"
    if len({one.cell for one in kept}) > 1:
        return f"kept: {_counted(kept)}"
    standing = standings[last.cell]
    if last.ohms is not None:
        return f"kept: {last.number} {last.name}: {_measured(standing.cell, last.ohms)}"
    beside = "" if last.deferred is not None else _beside(standing, standings)
    return f"kept: {last.number} {last.name} {_one_mark(last)}{beside}"


def _counted(kept: Sequence[Kept]) -> str:
    """Return how many cells are what now, and which of them were something else before."""
    counts = Counter("later" if one.deferred is not None else str(one.mark) for one in kept)
    were = [f"{one.number} was {one.before}" for one in kept if one.before not in (Mark.UNTESTED, one.mark)]
    first = ", ".join(f"{count} {what}" for what, count in counts.items())
    more = f" and {len(were) - NAMED} more" if len(were) > NAMED else ""
    return f"{first} ({', '.join(were[:NAMED])}{more})" if were else first


def _measured(cell: Cell, ohms: float) -> str:
    # What a coil should have is known to the analyser's room, which the first paint can't wait for.
    from matrixcheck.report.measured import due_ohms, judged  # noqa: PLC0415

    due = due_ohms(cell)
    return f"{ohms:g} Ω, due {due}: {judged(cell, ohms)}" if due else f"{ohms:g} Ω, {judged(cell, ohms)}"


def _beside(standing: Standing, standings: Standings) -> str:
    """Return what the last exercise of a cell showed as well or instead."""
    said = ((standing.echoed, "too"), (standing.answered_instead, "instead"))
    named = ((", ".join(_number(key, standings) for key in keys), how) for keys, how in said if keys)
    return "".join(f", {numbers} answered {how}" for numbers, how in named)


def _number(key: CellKey, standings: Standings) -> str:
    return str(standings[key].cell.number) if key in standings else key.address


def _one_mark(last: Kept) -> str:
    mark = "later" if last.deferred is not None else f"{GLYPHS[last.mark]} {last.mark}"
    if last.intermittent and last.deferred is None:
        mark = f"{mark}, comes and goes"
    elif last.corrected:
        mark = f"{mark}, corrected from {last.before}; & if it did both"
    if last.passes_left and last.deferred is None:
        mark = f"{mark}, {'one more pass' if last.passes_left == 1 else f'{last.passes_left} more passes'} needed"
    return mark


def differed_words(kept: Sequence[Kept]) -> str:
    """Say that both outcomes of a cell count."""
    return f"both count: {kept[-1].number} {kept[-1].name} comes and goes" if kept else ""


def undone_words(undone: Undone) -> str:
    """Say what was undone."""
    return f"undone: {'; '.join(undone.what)}{_counts_again(undone.back)}"


def redone_words(back: Undone) -> str:
    """Say what a redo brought back."""
    gone = f"; undone: {'; '.join(back.back)}" if back.back else ""
    return f"counts again: {'; '.join(back.what)}{gone}"


def _counts_again(back: Sequence[str]) -> str:
    return f"; counts again: {'; '.join(back)}" if back else ""


def _said(entry: Entry, matrix: Matrix) -> str:
    cell = matrix.by_key[entry.cell]
    name = short_words(cell)
    others = ", ".join(short_words(other) if (other := matrix.by_key.get(key)) else key.address for key in entry.others)
    match entry.verb:
        case Verb.ECHO:
            return f"{name}: {others} answered too"
        case Verb.MISREPORT:
            return f"{name}: {others} answered instead"
        case Verb.OHMS:
            return f"{name}: {entry.ohms:g} Ω"
    return f"{name}: {SAYS[entry.verb]}"
