"""How large the cells of a grid may be in the room there is, and which part of a large grid is shown."""

from __future__ import annotations

from typing import NamedTuple, Self

from matrixcheck.tui.widths import LABELS

WIDEST = 26
TALLEST = 3
MIDDLING = 2
HEADER = 1


class Geometry(NamedTuple):
    """Sizes in characters: `pitch` is the distance from cell to cell, `tile` the filled part of it.

    `digits` is the length of the largest number; `columns` and `rows` count the cells that are shown at once.
    """

    digits: int
    pitch_x: int
    pitch_y: int
    tile_width: int
    tile_height: int
    columns: int
    rows: int

    @staticmethod
    def height_for(rows: int, room: int) -> int:
        """Return the height that a grid of so many rows makes good use of, in a column with `room` lines for it."""
        return min(HEADER + rows * min(max((room - HEADER) // rows, 1), MIDDLING), room)

    @classmethod
    def fit(cls, rows: int, columns: int, digits: int, width: int, height: int) -> Self:
        """Return the largest cells with which a grid of `rows` by `columns` fits; of a grid too large for that, a part.

        `digits` is the length of the largest cell number; `width` and `height` include labels and header.
        """
        across, down = max(width - LABELS, 1), max(height - HEADER, 1)
        pitch_x = min(max(across // columns, digits + 2), WIDEST)
        pitch_y = min(max(down // rows, 1), TALLEST)
        return cls(
            digits=digits,
            pitch_x=pitch_x,
            pitch_y=pitch_y,
            tile_width=pitch_x - 1 if pitch_x > digits + 3 else pitch_x,
            tile_height=max(pitch_y - 1, 1),
            columns=max(min(columns, across // pitch_x), 1),
            rows=max(min(rows, down // pitch_y), 1),
        )


def shifted(origin: int, shown: int, total: int, place: int) -> int:
    """Return the first place to show (from 0), moved no more than needed.

    `place` is then among `shown` of `total`.
    """
    if place < origin:
        origin = place
    elif place >= origin + shown:
        origin = place - shown + 1
    return max(min(origin, total - shown), 0)
