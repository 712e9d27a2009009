"""What a job's state comes to: coverage, the later list, and its history in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.numbering import Number, natural_order
from matrixcheck.layout.places import CellKey, parse_cell
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.layout.wording import MOST_NAMED, cell_words, place_words
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.events import (
    Accepted,
    Deferred,
    Event,
    Found,
    FunctionChecked,
    FunctionVerdict,
    JobArchived,
    JobClosed,
    JobEdited,
    JobOpened,
    JobReopened,
    Noted,
    PhotoTaken,
    Read,
    Recorded,
    Relaid,
    Repaired,
    Restored,
    RoundPaced,
    RoundStarted,
    SafetyChecked,
    Withdrawn,
)
from matrixcheck.record.folding import Folding
from matrixcheck.record.job_state import JobState
from matrixcheck.record.photo_words import shows
from matrixcheck.record.replay import replay
from matrixcheck.record.withdrawals import struck_out

WITHOUT_CELL = "kept without a cell"
# How many events of one batch an undo spells out in the history.
_NAMED = 3
MANNER_WORDS = {"stepped": "", "paced": "timed ", "all-lit": "all-at-once "}
VERDICT_WORDS: Mapping[FunctionVerdict, str] = MappingProxyType(
    {"good": "good", "faulty": "FAULTY", "comes and goes": "comes and goes", "not fitted": "not fitted"}
)
ROUND_WORDS = {"walk": "walk", "roll": "roll", "hold": "hold round", "rest": "rest scan round"}


class Coverage(Struct, frozen=True):
    """Counts of one matrix's fitted cells.

    The four marks and `normal`, what glows at rest and may, add up to `total`. Cells due for a retest count as
    untested; `retest_due` says how many of them there are. `deferred` cells may stand anyhow.
    """

    working: int
    dead: int
    stuck: int
    untested: int
    retest_due: int
    deferred: int
    total: int
    normal: int = 0


class LaterItem(Struct, frozen=True):
    """A cell still to be tested.

    `reach` is the layout's, "" where it gives none. `reason` is `untested`, `deferred: ...` or `retest due: ...` with
    the place that was repaired ("repaired" where it is the cell).
    """

    cell: CellKey
    number: Number
    name: str
    reach: str
    reason: str


class LogLine(Struct, frozen=True):
    """One event in words.

    `seq` is its number within the job, the opening 1. `client` and `initials` say who recorded it. `withdrawn` when it
    was undone since.
    """

    seq: int
    at: datetime
    text: str
    withdrawn: bool = False
    client: str = ""
    initials: str = ""

    @property
    def who(self) -> str:
        """Return who recorded it: initials, else the kind of client; "" where nobody said."""
        return self.initials or self.client.partition(" of ")[0]


def coverage_of(state: JobState) -> dict[str, Coverage]:
    """Return coverage by matrix id, in the layout's order."""
    return {matrix.id: _coverage(state, matrix) for matrix in state.layout.matrices}


def _coverage(state: JobState, matrix: Matrix) -> Coverage:
    standings = [state.standings[cell.key] for cell in matrix.fitted]
    marks = Counter(standing.mark for standing in standings)
    normal = sum(standing.normal for standing in standings)
    return Coverage(
        working=marks[Mark.WORKING],
        dead=marks[Mark.DEAD],
        stuck=marks[Mark.STUCK] - normal,
        untested=marks[Mark.UNTESTED],
        retest_due=sum(standing.retest_due is not None for standing in standings),
        deferred=sum(standing.deferred is not None for standing in standings),
        total=len(standings),
        normal=normal,
    )


def later_list(state: JobState) -> tuple[LaterItem, ...]:
    """List every cell that is untested, deferred or due for a retest.

    They are sorted by matrix, those of one reach together, by number.
    """
    waiting = [
        LaterItem(cell.key, cell.number, cell.name, cell.notes.reach, reason)
        for matrix in state.layout.matrices
        for cell in matrix.fitted
        if (reason := _waits_for(state.standings[cell.key], state.layout))
    ]
    order = {matrix_id: place for place, matrix_id in enumerate(state.layout.matrix_ids)}
    return tuple(sorted(waiting, key=lambda item: (order[item.cell.matrix], item.reach, natural_order(item.number))))


def _waits_for(standing: Standing, layout: Layout) -> str:
    if standing.deferred is not None:
        return f"deferred: {standing.deferred}" if standing.deferred else "deferred"
    if standing.retest_due is not None:
        itself = parse_cell(standing.retest_due, "") == standing.cell.key
        return f"retest due: {'repaired' if itself else place_words(layout, standing.retest_due)}"
    return "untested" if standing.mark is Mark.UNTESTED else ""


def log_lines(events: Iterable[Recorded]) -> tuple[LogLine, ...]:
    """Return a job's history in words, oldest first; `events` are all of the job's, its opening first."""
    kept = tuple(events)
    gone = struck_out(kept)
    words = _words_along(kept, gone)
    batches: dict[int, list[int]] = {}
    for one in kept:
        batches.setdefault(one.batch, []).append(one.seq)
    undos = {
        one.seq: one.event.only or batches.get(one.event.batch, ()) for one in kept if isinstance(one.event, Withdrawn)
    }
    lines = []
    for number, one in enumerate(kept, 1):
        text = words[one.seq]
        if isinstance(one.event, Withdrawn):
            text = f"undone: {_listed(words[seq] for seq in undos[one.seq])}"
        elif isinstance(one.event, Restored):
            text = f"redone: {_listed(words[seq] for seq in undos.get(one.event.withdrawal, ()))}"
        lines.append(LogLine(number, one.at, text, one.seq in gone, one.client, one.initials))
    return tuple(lines)


def _listed(words: Iterable[str]) -> str:
    named = list(words)
    more = f" and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
    return f"{'; '.join(named[:_NAMED])}{more}"


def _words_along(kept: Sequence[Recorded], gone: frozenset[int]) -> dict[int, str]:
    """Return each event in words, by seq, given what was known when it came and still counts.

    Places go by what the layout of now calls them; those that it no longer has by what they were called.
    """
    from matrixcheck.record.versions import told_now  # noqa: PLC0415 - the history alone needs it

    present, told = told_now(kept)
    opening = kept[0].event
    assert isinstance(opening, JobOpened)
    folding = Folding(replay([kept[0]._replace(event=replace(opening, layout=present.layout))]))
    words = {kept[0].seq: words_of(opening, opening.layout)}
    for one, layout, fits in told[1:]:
        if fits:
            words[one.seq] = words_of(one.event, layout, folding.anyway)
            folding.take(one, counts=one.seq not in gone)
        else:
            ended = isinstance(one.event, RoundStarted)
            words[one.seq] = words_of(one.event, layout) + ("" if ended else f": {WITHOUT_CELL}")
    return words


def kept_without_cell(state: JobState) -> tuple[str, ...]:
    """List the places that the layout no longer has, with how much is kept of each, in the order it was recorded."""
    places = [_place_of(one.event, layout) for one, layout in state.without_cell]
    counts = Counter(place for place in places if place)
    return tuple(f"{place}: {count} {'entry' if count == 1 else 'entries'}" for place, count in counts.items())


def _place_of(event: Event, layout: Layout) -> str:
    match event:
        case Read(reading=Reading(cell=None, matrix=matrix)):
            return matrix
        case Read(reading=Reading(cell=CellKey() as cell)) | Deferred(cell=cell) | Accepted(cell=cell):
            return cell_words(layout, cell)
        case Found(finding=finding):
            return place_words(layout, finding.place)
        case PhotoTaken():
            return shows(event, layout)
    return ""


def words_of(event: Event, layout: Layout, anyway: Callable[[Reading], frozenset[CellKey]] | None = None) -> str:
    """Return one event in a line of plain words.

    `anyway` gives what shows under a reading's held switches with nothing exercised, which goes unsaid; without it only
    what was held does.
    """
    words = "round ended"
    match event:
        case JobOpened(name=name, serial=serial, owner=owner):
            about = ", ".join(filter(None, [serial and f"serial {serial}", owner and f"for {owner}"]))
            words = f"job opened: {name} ({layout.name}{', ' + about if about else ''})"
        case JobEdited() | JobClosed() | JobReopened() | JobArchived() | Relaid():
            words = _about_words(event)
        case RoundStarted() as begun:
            words = _round_words(begun, layout)
        case RoundPaced(seconds=seconds, paused=paused):
            words = "timed walk paused" if paused else f"timed walk, a step every {seconds:.3g} s"
        case Read(reading=reading):
            words = _reading_words(reading, layout, anyway(reading) if anyway else frozenset(reading.held))
        case Deferred() | Accepted():
            words = f"{_named([event.cell], layout)} {_set_aside(event)}"
        case Found(finding=finding, note=note):
            words = _noted(f"bench check: {found_words(finding, layout)}", note)
        case Repaired() as done:
            words = _repair_words(done, layout)
        case SafetyChecked() | FunctionChecked():
            words = _noted(_check_words(event), event.note)
        case Noted() | PhotoTaken():
            words = _kept_words(event, layout)
        case Withdrawn():
            words = "undone"
        case Restored():
            words = "redone"
    return words


def found_words(finding: Finding, layout: Layout) -> str:
    """Return what a bench check found in a line: by its code with what was read, else by its place."""
    verdict = "in between" if finding.verdict == "between" else finding.verdict
    if finding.code:
        return f"{finding.code} {verdict}{f' ({finding.value})' if finding.value else ''}"
    by = f" by '{finding.check}'" if finding.check else ""
    return f"{place_words(layout, finding.place)} {verdict}{by}"


def _about_words(event: JobEdited | JobClosed | JobReopened | JobArchived | Relaid) -> str:
    match event:
        case Relaid(said=said, layout=layout):
            return f"layout put right: {said or layout.name}"
        case JobEdited(name=name, serial=serial, owner=owner):
            edited = {"name": name, "serial": serial, "owner": owner}
            parts = (f"{field} {text or 'none'}" for field, text in edited.items() if text is not None)
            return f"job edited: {', '.join(parts)}"
        case JobClosed(verdict=verdict):
            return f"job closed: {verdict}"
        case JobReopened():
            return "job reopened"
        case JobArchived(hidden=hidden):
            return "job archived" if hidden else "job back from the archive"


def _set_aside(event: Deferred | Accepted) -> str:
    if isinstance(event, Deferred):
        return f"put off{': ' + event.reason if event.reason else ''}"
    return _noted("no longer taken as normal here" if event.back else "glows at rest: normal here", event.note)


def _check_words(made: SafetyChecked | FunctionChecked) -> str:
    if isinstance(made, FunctionChecked):
        return f"{made.section}: {made.item} {VERDICT_WORDS[made.verdict]}"
    return f"safety check: {made.item} {'waived' if made.waived else 'passed' if made.passed else 'FAILED'}"


def _kept_words(event: Noted | PhotoTaken, layout: Layout) -> str:
    if isinstance(event, Noted):
        return f"note: {event.text}"
    return _noted(f"photo of {shows(event, layout)}", event.caption)


def _round_words(begun: RoundStarted, layout: Layout) -> str:
    manner = MANNER_WORDS[begun.manner] if begun.round == "walk" else ""
    count = len(begun.cells)
    over = f" over {_named(begun.cells, layout) if count <= MOST_NAMED else f'{count} cells'}" if count else ""
    holding = f", holding {_named(begun.held, layout)}" if begun.held else ""
    return f"{manner}{ROUND_WORDS[begun.round]} of {begun.matrix} started{over}{holding}"


def _repair_words(done: Repaired, layout: Layout) -> str:
    place = f"{done.place}, outside the layout" if done.outside else place_words(layout, done.place)
    more = [done.did, done.fitted and f"fitted {done.fitted}", done.value]
    return _noted("; ".join(filter(None, [f"repair: {place}", *more])), done.note)


def _noted(text: str, note: str) -> str:
    return f"{text} ({note})" if note else text


def _reading_words(reading: Reading, layout: Layout, anyway: frozenset[CellKey]) -> str:
    if reading.cell is None:
        text = f"rest scan of {reading.matrix}: {_named(reading.answered or (), layout) or 'nothing'} shows"
    else:
        text = f"{_named([reading.cell], layout)} {_seen_words(reading, reading.cell, layout, anyway)}"
    said = [text]
    if reading.held:
        said.append(f"holding {_named(reading.held, layout)}")
    if reading.faint:
        said.append(f"faint: {_named(reading.faint, layout)}")
    if reading.ohms is not None:
        said.append(f"{reading.ohms:g} ohms")
    if reading.blew:
        said.append("a fuse blew" if reading.blew is True else f"{reading.blew} blew")
    return _noted("; ".join(said), reading.note)


def _seen_words(reading: Reading, cell: CellKey, layout: Layout, anyway: frozenset[CellKey]) -> str:
    if reading.mark is not None:
        return str(reading.mark)
    if reading.answered is None:
        return "measured"
    if cell not in reading.answered:
        instead = [key for key in reading.answered if key not in anyway]
        return f"dead, {_named(instead, layout)} answered instead" if instead else "dead"
    others = [key for key in reading.answered if key != cell and key not in anyway]
    return f"answered, and {_named(others, layout)} too" if others else "answered"


def _named(keys: Iterable[CellKey], layout: Layout) -> str:
    return ", ".join(cell_words(layout, key) for key in keys)
