"""One plain sentence a suspect, with its counts, and one for a whole diagnosis.

A sentence names what may be at fault, then how many tested cells that explains, how many contradict it and how many
nobody tested, and says where marks alone can't decide. It never calls an untested cell good.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from matrixcheck.diagnosis.evidence.intermittence import intermittent_cells
from matrixcheck.diagnosis.machine.fault_classes import LASTING, PRIVATE, SILENCING
from matrixcheck.diagnosis.result import CellState, Diagnosis, Fault, Searched, Suspect
from matrixcheck.diagnosis.words.clauses import clauses
from matrixcheck.diagnosis.words.places import count_of, numbers_words
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading

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
    unsteady = len(intermittent_cells(readings).intersection(explains))
    if own is not None and set(explains) <= own and not contradicts:
        return f"{named}; it comes and goes." if unsteady else f"{named}."
    counts = _counts(explains, contradicts, untested)
    if unsteady:
        counts += f"; {count_of(unsteady, 'cell comes and goes', 'cells come and go')}: look for what is loose"
    separator = ";" if ":" in named else ":"
    sound = "; or it is sound and the test doesn't switch this lighting" if set(stays_lit) & set(members) else ""
    return f"{named}{separator} {counts}{_doubt(layout, members)}{sound}."


def members_words(layout: Layout, members: Sequence[Fault], readings: Sequence[Reading] = ()) -> str:
    """Word what may be at fault, without counts: "Q3, contact X5-3 or the first wire of switch column 3 is open"."""
    found = clauses(layout, members, readings)
    shown = found[:3] + ([f"{count_of(len(found) - 3, 'other fault')} of the same look"] if len(found) > 3 else [])
    return _capital(", or ".join(shown))


def fault_words(fault: Fault, layout: Layout) -> str:
    """Word one fault as a short phrase for a face."""
    return members_words(layout, (fault,))


def search_caution(searched: Searched) -> str:
    """Say before all else that a limit in seconds cut the search short, or that much wasn't searched.

    Empty for a finished search that left out little.
    """
    said = [] if searched.finished else [f"stopped early, after {_seconds(searched.seconds)} as asked"]
    if not searched.exact and searched.gap is None:
        said.append("how much was not searched is unknown")
    elif searched.gap is not None and searched.gap > LARGE_GAP:
        most = searched.gap > 0.99
        said.append("hardly anything was searched" if most else f"up to {percent(searched.gap)} was not searched")
    missed = "less likely causes may be missing" if searched.exact else "another cause may be likelier"
    return f"{_capital('; '.join(said))}: {missed}." if said else ""


def summary(diagnosis: Diagnosis, layout: Layout) -> str:
    """Word a whole diagnosis in one line: what is likeliest, what is untested, what little wasn't searched.

    What `search_caution` says is not said again.
    """
    return f"{_verdict(diagnosis, layout)}{_not_testable(diagnosis)}{_reach(diagnosis)}."


def limits(diagnosis: Diagnosis) -> str:
    """Word in a sentence what couldn't be tested and what little wasn't searched; empty where there is neither."""
    said = f"{_not_testable(diagnosis)}{_reach(diagnosis)}".removeprefix("; ")
    return f"{_capital(said)}." if said else ""


def is_private(members: Sequence[Fault]) -> bool:
    """Return whether all of the faults lie within cells: their device, diode or own wire."""
    return all(fault.fault in PRIVATE for fault in members)


def _within(text: str) -> str:
    """Return the text as it stands within a sentence; a designator keeps its capital."""
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


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


def _verdict(diagnosis: Diagnosis, layout: Layout) -> str:
    untested = sum(cell.mark is Mark.UNTESTED for cell in diagnosis.cells)
    left = f"{count_of(untested, 'cell')} untested" if untested else "every cell tested"
    best = diagnosis.explanations[0] if diagnosis.explanations else None
    suspects = [diagnosis.suspect(each) for each in best.suspects] if best else []
    shared = [suspect for suspect in suspects if not is_private(suspect.members)]
    alone = len(suspects) - len(shared)
    if untested == len(diagnosis.cells) and not suspects:
        return f"Nothing is tested yet, so nothing can be said: {left}"
    if best and shared:
        besides = f" (with {count_of(alone, 'fault')} of single cells)" if alone else ""
        return f"Most likely, {percent(best.probability)}: {_together(layout, shared)}{besides}; {left}"
    if alone:
        cells = "1 cell has a cause of its own" if alone == 1 else f"{alone} cells have causes of their own"
        return f"No shared fault is needed: {cells}; {left}"
    return f"{_nothing_found(diagnosis.cells)}; {left}"


def _together(layout: Layout, suspects: Sequence[Suspect]) -> str:
    return "; and ".join(_within(members_words(layout, suspect.members)) for suspect in suspects)


def _nothing_found(cells: Sequence[CellState]) -> str:
    comes_and_goes = sum(cell.intermittent for cell in cells)
    if comes_and_goes:
        comes = count_of(comes_and_goes, "cell comes and goes", "cells come and go")
        return f"No shared fault in what was tested, but {comes}"
    return "No fault in what was tested"


def _not_testable(diagnosis: Diagnosis) -> str:
    """Word what no cell by itself can test, where a round that would is among what comes next."""
    waits = any(test.held and not test.gain for test in diagnosis.next)
    return "; shorted diodes are not testable until switches are held" if waits else ""


def _reach(diagnosis: Diagnosis) -> str:
    gap = diagnosis.searched.gap or 0.0
    return f"; up to {percent(gap)} was not searched" if WORTH_SAYING < gap <= LARGE_GAP else ""


def _seconds(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.2g} s"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
