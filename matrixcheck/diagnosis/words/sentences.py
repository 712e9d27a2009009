"""One plain sentence a suspect, with its counts; how far a search went.

A sentence names what may be at fault, then how many tested cells that explains, how many contradict it and how many
nobody tested, and says where marks alone can't decide. It never calls an untested cell good.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from matrixcheck.diagnosis.evidence.intermittence import intermittent_cells
from matrixcheck.diagnosis.machine.fault_classes import LASTING, PRIVATE, SILENCING
from matrixcheck.diagnosis.result import Fault, Searched
from matrixcheck.diagnosis.words.clauses import clauses
from matrixcheck.diagnosis.words.places import count_of, numbers_words
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

WORTH_SAYING = 0.01
"""What was not searched is passed over in words where it weighs no more than this."""
LARGE_GAP = 0.05
"""From this share on, what was not searched is said before all else, and lowers every probability."""


def suspect_sentence(
    layout: Layout,
    members: Sequence[Fault],
    explains: Sequence[CellKey],
    contradicts: Sequence[CellKey],
    untested: Sequence[CellKey],
    *,
    readings: Sequence[Reading] = (),
    stays_lit: Collection[Fault] = (),
) -> str:
    """Word one ambiguity group with its counts.

    `readings` give the resistances of wrong coils, and the cells that come and go. `stays_lit`: relays that keep all
    lighting fed, or look so because the test doesn't switch it.
    """
    named = members_words(layout, members, readings)
    own = {cell for fault in members for cell in fault.cells} if is_private(members) else None
    explained = set(explains)
    unsteady = len(intermittent_cells([one for one in readings if one.cell in explained]))
    if own is not None and explained <= own and not contradicts:
        return f"{named}; it comes and goes." if unsteady else f"{named}."
    counts = _counts(explains, contradicts, untested)
    if unsteady:
        counts += f"; {count_of(unsteady, 'cell comes and goes', 'cells come and go')}: look for what is loose"
    separator = ";" if ":" in named else ":"
    sound = "; or it is good and the test doesn't switch this lighting" if set(stays_lit) & set(members) else ""
    return f"{named}{separator} {counts}{_doubt(layout, members)}{sound}."


def members_words(layout: Layout, members: Sequence[Fault], readings: Sequence[Reading] = ()) -> str:
    """Word what may be at fault, without counts: "Q3, contact X5-3 or the first wire of switch column 3 is open"."""
    found = clauses(layout, members, readings)
    shown = found[:3] + ([f"{count_of(len(found) - 3, 'other fault')} of the same look"] if len(found) > 3 else [])
    return _capital(", or ".join(shown))


def search_caution(searched: Searched) -> str:
    """Say before all else that a limit in seconds cut the search short, or that much wasn't searched.

    Empty for a finished search that left out little. It fits one line of 78.
    """
    stopped = "" if searched.finished else f"Stopped early ({_seconds(searched.seconds)})"
    if searched.exact:
        return f"{stopped}: less likely causes may be missing." if stopped else ""
    if searched.gap is None:
        left = "unknown how much is left"
    elif searched.gap > LARGE_GAP:
        left = "hardly anything searched" if searched.gap > 0.99 else f"up to {percent(searched.gap)} not searched"
    else:
        left = ""
    said = "; ".join(filter(None, [stopped, left]))
    return f"{_capital(said)}: a likelier cause may exist." if said else ""


def is_private(members: Sequence[Fault]) -> bool:
    """Return whether all of the faults lie within cells: their device, diode or own wire."""
    return all(fault.fault in PRIVATE for fault in members)


def percent(probability: float) -> str:
    """Word a probability in whole per cent; never 0 or 100, which nothing uncertain is."""
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{probability * 100:.0f} %"


def _counts(explains: Sequence[CellKey], contradicts: Sequence[CellKey], untested: Sequence[CellKey]) -> str:
    against = f"{len(contradicts)} against" if contradicts else "none against"
    left = f"{len(untested)} untested" if untested else "none untested"
    return f"fits {count_of(len(explains), 'result')}, {against}, {left}"


def _doubt(layout: Layout, members: Sequence[Fault]) -> str:
    """Word what could distinguish the members: nothing in test mode, or cells that only some of them silence."""
    if len(members) < 2 or is_private(members):
        return ""
    kinds = {_look(fault) for fault in members}
    shared = set(members[0].cells).intersection(*(fault.cells for fault in members))
    differing = sorted({cell for fault in members for cell in fault.cells} - shared)
    if not differing and (len(kinds) == 1 or kinds == {"dead", "low"}):
        return "; testing can't split these: measure"
    if kinds == {"dead"}:
        matrix = [cell for cell in differing if cell.matrix == differing[0].matrix]
        return f"; testing {numbers_words(layout, matrix)} narrows it"
    return "; tests so far can't split these"


def _look(fault: Fault) -> str:
    if fault.fault in SILENCING:
        return "dead"
    return "low" if fault.fault in LASTING else str(fault.fault)


def _seconds(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.2g} s"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
