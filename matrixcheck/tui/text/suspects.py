"""The suspects beside the grid: how likely each is and the one sentence that says why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from matrixcheck.layout.places import CellKey
from matrixcheck.tui.text.spans import Row, clipped, row, wrapped
from matrixcheck.tui.text.tile import Light

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Diagnosis, Suspect


class Named(NamedTuple):
    """A suspect and its probability in words."""

    suspect: Suspect
    chance: str


class Told(NamedTuple):
    """A diagnosis ready to be shown: one sentence for all of it, and its suspects under their headings."""

    diagnosis: Diagnosis
    verdict: str
    groups: tuple[tuple[str, tuple[Named, ...]], ...]

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """All that are listed, in their order."""
        return tuple(named.suspect for _, group in self.groups for named in group)


class Entry(NamedTuple):
    """One suspect as lines, a heading before it included; `top` is the line that it begins on."""

    suspect: Suspect
    top: int
    rows: tuple[Row, ...]


def entries(told: Told, chosen: str | None, width: int, brief: bool) -> tuple[Entry, ...]:
    """The suspects as lines; `brief` gives each one line and leaves the headings out."""
    listed: list[Entry] = []
    top = 0
    for heading, group in told.groups:
        for index, named in enumerate(group):
            here = named.suspect.id == chosen
            rows = _brief(named, here, width) if brief else _full(named, here, width)
            if heading and not index and not brief:
                rows = (row(heading, "quiet"), *rows)
            listed.append(Entry(named.suspect, top, rows))
            top += len(rows)
    return tuple(listed)


def verdict(told: Told | None, width: int) -> tuple[Row, ...]:
    """What stands above the list."""
    return wrapped(told.verdict if told else "working it out …", width, "quiet")


def lights(suspect: Suspect | None) -> Mapping[CellKey, Light]:
    """The cells that a suspect lights on the grid."""
    if suspect is None:
        return {}
    lit = dict.fromkeys(suspect.untested, Light.UNTESTED)
    lit.update(dict.fromkeys(suspect.explains, Light.EXPLAINED))
    lit.update(dict.fromkeys(suspect.contradicts, Light.CONTRADICTS))
    return lit


def deciding(told: Told | None, chosen: Suspect | None) -> tuple[CellKey, ...]:
    """The cells of one matrix that would tell most: those that the analyser would exercise next, else those of the
    chosen suspect that nobody tested."""
    if told is None:
        return ()
    next_cells = [test.cell for test in told.diagnosis.next if test.cell is not None and not test.held]
    wanted = next_cells or (chosen.untested if chosen else ())
    return tuple(key for key in wanted if key.matrix == wanted[0].matrix)


def proposed_holds(told: Told | None, matrix_id: str) -> tuple[tuple[CellKey, ...], ...]:
    """The sets of switches of a matrix that the analyser would keep closed, each once."""
    tests = told.diagnosis.next if told else ()
    return tuple(dict.fromkeys(test.held for test in tests if test.held and test.matrix == matrix_id))


def _brief(named: Named, here: bool, width: int) -> tuple[Row, ...]:
    head = f"{'▸' if here else ' '}{named.chance} "
    says = clipped(named.suspect.says, width - len(head))
    return (((head, "strong"), (says, "here" if here else "plain")),)


def _full(named: Named, here: bool, width: int) -> tuple[Row, ...]:
    head = row(f"{'▸' if here else ' '}{named.chance}", "strong")
    return (head, *wrapped(named.suspect.says, width, "here" if here else "plain", indent="  "), ())
