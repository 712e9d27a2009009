"""Entries that were refused: what they are, and what is said of them until each is put right or dropped."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.layout.places import CellKey
from matrixcheck.tui.text.spans import clipped

SHOWN = 5
LONGEST = 24


class RefusedEntry(NamedTuple):
    """An entry that was refused: the matrix it was typed for, the cell at hand then, the text, and why not."""

    matrix_id: str
    cell: CellKey
    text: str
    why: str


def refused_words(entries: Sequence[RefusedEntry], take_up: str, drop: str) -> str:
    """Say which entries were refused, in their order, and by which keys the first is taken up again or dropped."""
    if not entries:
        return ""
    listed = " · ".join(clipped(one.text, LONGEST) for one in entries[:SHOWN])
    more = f" and {len(entries) - SHOWN} more" if len(entries) > SHOWN else ""
    first = "it" if len(entries) == 1 else "the first"
    return f"! {len(entries)} refused: {listed}{more}. {take_up} takes {first} up again, {drop} drops it."


def lost_words(entries: Sequence[RefusedEntry]) -> tuple[str, str]:
    """Return the question before refused entries are lost, and which these are."""
    one = len(entries) == 1
    question = (
        f"{len(entries)} {'entry was' if one else 'entries were'} refused. Leave without {'it' if one else 'them'}?"
    )
    return question, f"What was typed: {' · '.join(one.text for one in entries)}"
