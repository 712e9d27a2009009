"""What one cell of a grid looks like: its number, its mark and what else is known of it, in the room of one tile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import Enum
from typing import NamedTuple

from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.numbering import Number
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing
from matrixcheck.report.glyphs import GLYPHS
from matrixcheck.report.grids import square_of
from matrixcheck.tui.text.geometry import Geometry
from matrixcheck.tui.text.spans import Row, Span, Tone, clipped

ROOM_FOR_NAME = 12
ROOM_FOR_CUT_NAME = 8
"""Characters below the number in which the beginning of a name still says something."""


class Light(Enum):
    """Why a cell is lit: what it says of the chosen suspect, or that it is ticked in a rest scan."""

    EXPLAINED = "◆"
    CONTRADICTS = "≠"
    UNTESTED = "?"
    TICKED = "●"


class Face(NamedTuple):
    """What a tile shows. Two equal faces look the same, so a tile is repainted only when its face changes."""

    number: Number
    name: str
    mark: Mark = Mark.UNTESTED
    signs: str = ""
    note: str = ""
    light: Light | None = None


def face_of(cell: Cell, matrix: Matrix, standings: Mapping[CellKey, Standing], light: Light | None = None) -> Face:
    """Return what the tile of a cell shows, from how it stands."""
    square = square_of(cell, standings)
    standing = standings.get(cell.key)
    return Face(cell.number, cell.name, square.mark, square.signs, _note(matrix, standing) if standing else "", light)


def _note(matrix: Matrix, standing: Standing) -> str:
    """Return the one other fact that a small tile has room for."""
    if standing.answered_instead:
        return f"/{_numbers(matrix, standing.answered_instead)}"
    if standing.echoed:
        return f"+{_numbers(matrix, standing.echoed)}"
    if standing.retest_due is not None:
        return "again"
    if standing.deferred is not None:
        return "later"
    return f"{standing.ohms:g}Ω" if standing.ohms is not None else ""


def _numbers(matrix: Matrix, keys: Sequence[CellKey]) -> str:
    number = matrix.number_at(keys[0].row, keys[0].column)
    first = keys[0].address if number is None else number
    return f"{first}…" if len(keys) > 1 else f"{first}"


def drawn(face: Face, geometry: Geometry, cursor: bool) -> tuple[Row, ...]:
    """Return the lines of a tile, each `pitch_x` characters wide; `pitch_y` of them.

    Under the cursor the first line is turned over; a tile of two lines still shows the mark's fill in its second.
    """
    width, pitch = geometry.tile_width, geometry.pitch_x
    fill: Tone = face.mark.value
    gap: Span = (" " * (pitch - width), "plain")
    note = f" {_second(face, width)}"
    lines: list[Row] = [((_number_line(face, geometry, cursor), "cursor" if cursor else fill), gap)]
    if geometry.pitch_y > 1:
        lines.append(((note.ljust(width), fill if geometry.tile_height > 1 else "quiet"), gap))
    lines += [((" " * pitch, "plain"),)] * (geometry.pitch_y - len(lines))
    return tuple(lines)


def _second(face: Face, width: int) -> str:
    if width >= ROOM_FOR_NAME:
        return clipped(face.name, width - 2)
    room = width - 1
    if not face.note:
        whole = len(face.name) <= room
        return clipped(face.name, room) if whole or room >= ROOM_FOR_CUT_NAME else ""
    if len(face.note) <= room:
        return face.note
    return face.signs if face.signs and len(face.signs) <= room else "…"


def _number_line(face: Face, geometry: Geometry, cursor: bool) -> str:
    width, digits = geometry.tile_width, geometry.digits
    gap = " " if width >= digits + 4 else ""
    line = f"{face.number:>{digits}}{gap}{GLYPHS[face.mark]}{face.signs}"
    hidden = len(line) >= width and face.signs and geometry.pitch_y == 1
    edge = face.light.value if face.light else "▸" if cursor else "…" if hidden else " "
    line = f"{edge}{line}"
    if width >= ROOM_FOR_NAME:
        more = face.name if geometry.pitch_y == 1 else face.note
        line = clipped(f"{line:<{digits + 5}} {more}", width - 1)
    return line[:width].ljust(width)
