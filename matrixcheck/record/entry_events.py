"""What a typed entry records, given the state of the job that it is typed into.

Switches: the machine shows whatever closes, so an entry tells all that answered. `24` is answered [24], `24+31` is
answered [24, 31], `24/31` is answered [31]. To that comes what shows without anything being exercised, which nobody
types again: in a hold round all that its own rest scan showed; else the cells that stand stuck, what the latest rest
scan showed of switches that rest closed, and LEDs on keep-warm resistors that were last seen lit at rest. In a hold
round without a rest scan of its own it isn't known what the held switches show: then `24` records its mark alone, and
`24+31` and `24/31` are refused.

Lamps and coils: a tick says how the one device did, what else answered isn't known: `24` is the mark working alone.
`24+31` and `24/31` tell all that was seen, as above.

Everywhere `24-` and `24*` are marks alone, `24=4.1` is a resistance alone, and `24.` puts the cell off, for the reason
that the layout's reach gives. `24+-` is two readings, one that it works and one that it is dead: readings that
contradict each other are what coming and going is.
"""

from __future__ import annotations

from msgspec.structs import replace

from matrixcheck.errors import InputError
from matrixcheck.layout.model import Cell, Kind, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.entry import Entry, Verb
from matrixcheck.record.events import Deferred, Read
from matrixcheck.record.job_state import JobState

COMES_AND_GOES = "comes and goes"
"""The note of both readings of an entry that says so."""
_ALONE = {Verb.WORKING: Mark.WORKING, Verb.DEAD: Mark.DEAD, Verb.STUCK: Mark.STUCK}


def events_of(entry: Entry, state: JobState) -> tuple[Read | Deferred, ...]:
    """Return the events that an entry records: one, or two where it comes and goes."""
    if entry.verb is not Verb.UNSTEADY:
        return (_event_of(entry, state),)
    matrix = state.layout.matrix(entry.cell.matrix)
    halves = (_reading(Entry(entry.cell, verb), matrix, state) for verb in (Verb.WORKING, Verb.DEAD))
    return tuple(in_round(replace(half, note=COMES_AND_GOES), state) for half in halves)


def _event_of(entry: Entry, state: JobState) -> Read | Deferred:
    matrix = state.layout.matrix(entry.cell.matrix)
    if entry.verb is Verb.LATER:
        return Deferred(cell=entry.cell, reason=matrix.by_key[entry.cell].notes.reach)
    if entry.verb is Verb.OHMS:
        return in_round(Reading(matrix=matrix.id, cell=entry.cell, ohms=entry.ohms), state)
    return in_round(_reading(entry, matrix, state), state)


def in_round(reading: Reading, state: JobState) -> Read:
    """Return the reading as an event of the client's open round, where that goes through its matrix."""
    own = state.round if state.round is not None and state.round.matrix == reading.matrix else None
    return Read(reading=reading, round=own.seq if own else 0)


def _reading(entry: Entry, matrix: Matrix, state: JobState) -> Reading:
    cell, others = entry.cell, frozenset(entry.others)
    held = _held(state, matrix)
    meanwhile = tuple(key for key in held if key != cell)
    showing = _showing_anyway(state, matrix, held)
    only_marks = entry.verb is Verb.WORKING and (matrix.kind is not Kind.SWITCH or showing is None)
    if only_marks or entry.verb in (Verb.DEAD, Verb.STUCK):
        return Reading(matrix=matrix.id, cell=cell, held=meanwhile, mark=_ALONE[entry.verb])
    if showing is None:
        raise InputError(
            "a hold round needs a rest scan first",
            "record what shows with only the held switches closed",
        )
    shown = (showing - {cell}) | others if entry.verb is Verb.MISREPORT else showing | {cell} | others
    return Reading(matrix=matrix.id, cell=cell, held=meanwhile, answered=tuple(sorted(shown)))


def _held(state: JobState, matrix: Matrix) -> tuple[CellKey, ...]:
    return state.round.held if state.round is not None and state.round.matrix == matrix.id else ()


def _showing_anyway(state: JobState, matrix: Matrix, held: tuple[CellKey, ...]) -> frozenset[CellKey] | None:
    """Return what shows with nothing exercised but what is held, None where that isn't known."""
    if held:
        since = state.round.seq if state.round is not None else 0
        return state.at_rest[matrix.id].showing(held, since)
    at_rest = state.at_rest[matrix.id]
    resting = {key for key in at_rest.showing(()) or () if _rests_closed(key, matrix)}
    return at_rest.stuck | resting | {cell.key for cell in matrix.fitted if _glows_on(cell, state)}


def _rests_closed(key: CellKey, matrix: Matrix) -> bool:
    """Return whether a place that a rest scan showed goes on showing.

    It does where it is meant to, or has no device of its own to mark.
    """
    return key not in matrix.by_key or matrix.by_key[key].notes.rest == "closed"


def _glows_on(cell: Cell, state: JobState) -> bool:
    """Return whether it is an LED on a keep-warm resistor that was last seen lit with nothing exercised.

    What its own command did since doesn't end its glow.
    """
    if cell.notes.fitted != "led" or cell.notes.keep_warm is None:
        return False
    marked = [(one.seq, True) for one in state.standings[cell.key].seen if one.reading.mark is Mark.STUCK]
    words = marked + state.at_rest[cell.key.matrix].verdicts(cell)
    return bool(words) and max(words)[1]
