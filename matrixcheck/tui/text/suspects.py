"""The suspects beside the grid: how likely each is and the one sentence that says why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from matrixcheck.layout.places import CellKey
from matrixcheck.tui.text.spans import Row, row, shortened, wrapped
from matrixcheck.tui.text.tile import Light

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Diagnosis, Suspect


WORKING = "working it out …"
STILL_LOOKING = "still looking …"
FAILED = "The analysis failed. Every mark is kept, and the next one tries again."
UNCHOSEN = 3
"""Lines that a suspect takes until it is chosen or there is room for more."""


class Named(NamedTuple):
    """A suspect and its probability in words."""

    suspect: Suspect
    chance: str


class Analysis(NamedTuple):
    """Hold a diagnosis ready to be shown.

    `first` stands above the suspects (the search goes on, or what it left out); these follow under their headings, then
    the verdict and any danger.
    """

    diagnosis: Diagnosis
    verdict: str
    groups: tuple[tuple[str, tuple[Named, ...]], ...]
    danger: str = ""
    first: str = ""

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """Return all that are listed, in their order."""
        return tuple(named.suspect for _, group in self.groups for named in group)


class Entry(NamedTuple):
    """Hold one suspect as lines, a heading before it included; `top` is the line that it begins on."""

    suspect: Suspect
    top: int
    rows: tuple[Row, ...]


def entries(analysis: Analysis, chosen: str | None, width: int, height: int, brief: bool) -> tuple[Entry, ...]:
    """Return the suspects as lines: all of the chosen one, and of the others, likeliest first, what fits `height`.

    `brief` begins with one line for each, and leaves out headings and the blank lines between.
    """
    apart = 0 if brief else 1
    listed = [
        (heading if not index and not brief else "", named)
        for heading, group in analysis.groups
        for index, named in enumerate(group)
    ]
    says = [_says(named, named.suspect.id == chosen, width) for _, named in listed]
    least = [
        len(rows) if named.suspect.id == chosen else min(len(rows), 1 if brief else UNCHOSEN)
        for (_, named), rows in zip(listed, says, strict=True)
    ]
    left = height - sum(least) - sum(bool(heading) + apart for heading, _ in listed)
    found: list[Entry] = []
    top = 0
    for (heading, named), rows, fewest in zip(listed, says, least, strict=True):
        taken = min(len(rows) - fewest, max(left, 0))
        left -= taken
        shown = ((row(heading, "quiet"),) if heading else ()) + shortened(rows, fewest + taken) + ((),) * apart
        found.append(Entry(named.suspect, top, shown))
        top += len(shown)
    return tuple(found)


def lights(suspect: Suspect | None) -> Mapping[CellKey, Light]:
    """Return the cells that a suspect lights on the grid."""
    if suspect is None:
        return {}
    lit = dict.fromkeys(suspect.untested, Light.UNTESTED)
    lit.update(dict.fromkeys(suspect.explains, Light.EXPLAINED))
    lit.update(dict.fromkeys(suspect.contradicts, Light.CONTRADICTS))
    return lit


def deciding(analysis: Analysis | None, chosen: Suspect | None) -> tuple[CellKey, ...]:
    """Return the most informative cells of one matrix.

    Those that the analyser would exercise next, else those of the chosen suspect that nobody tested.
    """
    if analysis is None:
        return ()
    next_cells = [test.cell for test in analysis.diagnosis.next if test.cell is not None and not test.held]
    wanted = next_cells or (chosen.untested if chosen else ())
    return tuple(key for key in wanted if key.matrix == wanted[0].matrix)


def proposed_holds(analysis: Analysis | None, matrix_id: str) -> tuple[tuple[CellKey, ...], ...]:
    """Return the sets of switches of a matrix that the analyser would keep closed, each once."""
    tests = analysis.diagnosis.next if analysis else ()
    return tuple(dict.fromkeys(test.held for test in tests if test.held and test.matrix == matrix_id))


def _says(named: Named, here: bool, width: int) -> tuple[Row, ...]:
    head = f"{'▸' if here else ' '}{named.chance} "
    says = wrapped(named.suspect.says, width, "strong" if here else "plain", indent="  ", first=" " * len(head))
    text, tone = says[0][0]
    first: Row = ((head, "strong"), (text[len(head) :], tone))
    return (first, *says[1:])
