"""The suspects beside the grid: how likely each is and the one sentence that says why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.result import Diagnosis, Suspect
from matrixcheck.diagnosis.wording import percent, summary
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.report.ranking import ranked
from matrixcheck.tui.text.spans import Row, clipped, row, wrapped
from matrixcheck.tui.text.tile import Light


class Entry(NamedTuple):
    """One suspect as lines, a heading before it included; `top` is the line that it begins on."""

    suspect: Suspect
    top: int
    rows: tuple[Row, ...]


def groups(diagnosis: Diagnosis | None) -> tuple[tuple[str, tuple[Suspect, ...]], ...]:
    """The suspects worth a line under their headings: the likeliest set, what else it could be, single cells."""
    if diagnosis is None:
        return ()
    ranking = ranked(diagnosis)
    found = (
        ("", ranking.shared),
        ("What else it could be", ranking.others),
        ("With a cause of their own", ranking.private),
    )
    return tuple((heading, suspects) for heading, suspects in found if suspects)


def entries(
    found: Sequence[tuple[str, tuple[Suspect, ...]]], chosen: str | None, width: int, brief: bool
) -> tuple[Entry, ...]:
    """The suspects as lines; `brief` gives each one line and leaves the headings out."""
    listed: list[Entry] = []
    top = 0
    for heading, suspects in found:
        for index, suspect in enumerate(suspects):
            rows = _brief(suspect, chosen, width) if brief else _full(suspect, chosen, width)
            if heading and not index and not brief:
                rows = (row(heading, "quiet"), *rows)
            listed.append(Entry(suspect, top, rows))
            top += len(rows)
    return tuple(listed)


def verdict(diagnosis: Diagnosis | None, layout: Layout, width: int) -> tuple[Row, ...]:
    """What stands above the list: the whole diagnosis in a sentence."""
    if diagnosis is None:
        return (row("working it out …", "quiet"),)
    return wrapped(summary(diagnosis, layout), width, "quiet")


def lights(suspect: Suspect | None) -> Mapping[CellKey, Light]:
    """The cells that a suspect lights on the grid."""
    if suspect is None:
        return {}
    lit = dict.fromkeys(suspect.untested, Light.UNTESTED)
    lit.update(dict.fromkeys(suspect.explains, Light.EXPLAINED))
    lit.update(dict.fromkeys(suspect.contradicts, Light.CONTRADICTS))
    return lit


def _brief(suspect: Suspect, chosen: str | None, width: int) -> tuple[Row, ...]:
    here = suspect.id == chosen
    head = f"{'▸' if here else ' '}{percent(suspect.probability)} "
    says = clipped(suspect.says, width - len(head))
    return (((head, "strong"), (says, "here" if here else "plain")),)


def _full(suspect: Suspect, chosen: str | None, width: int) -> tuple[Row, ...]:
    here = suspect.id == chosen
    head = row(f"{'▸' if here else ' '}{percent(suspect.probability)}", "strong")
    return (head, *wrapped(suspect.says, width, "here" if here else "plain", indent="  "), ())
