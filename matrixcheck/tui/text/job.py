"""What the job screen says at its head and about entries."""

from __future__ import annotations

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.wording import short_words
from matrixcheck.record.entry import Entry, Verb, parse_entries
from matrixcheck.record.job_state import JobState
from matrixcheck.report.danger import danger_briefly
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

FIRST_HINT_ON_A_PHONE = "tap a cell, then what it is; or start a round; more shows everything else"


def first_hint(keymap: Keymap, matrix: Matrix) -> str:
    """Say how to begin. An action whose key is a number of the matrix goes unsaid; it can be tapped."""
    bad, stuck = key_named("bad", JOB, keymap), key_named("stuck", JOB, keymap)
    others = (("safety", "checks before power"), ("round", "a round"), ("help", "every key"))
    said = ((pressed(key_named(name, JOB, keymap), matrix), does) for name, does in others)
    keys = "".join(f"; {key} {does}" for key, does in said if key)
    return f"arrows move, Enter {bad} {stuck} mark; or type a number{keys}"


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
    danger = danger_briefly(state)
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
