"""From a sort of round to its screen; and back to an open round, from the journal alone."""

from __future__ import annotations

from collections.abc import Collection

from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.events import RoundKind
from matrixcheck.tui.desk import Desk
from matrixcheck.tui.screens.all_lit import AllLitScreen
from matrixcheck.tui.screens.beat import BeatScreen
from matrixcheck.tui.screens.hold import HoldScreen
from matrixcheck.tui.screens.rest import RestScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.text.choosing import ALL, BEAT, HOLD, REST, ROLL, Sort

KINDS: dict[Sort, RoundKind] = {ROLL: "roll", REST: "rest", HOLD: "hold"}


def begun(
    desk: Desk, matrix: Matrix, sort: Sort, cells: Collection[CellKey] = (), held: tuple[CellKey, ...] = ()
) -> RoundScreen:
    """Begin a round in the journal; its screen. Raises MatrixCheckError when it can't begin."""
    desk.start_round(matrix, KINDS.get(sort, "walk"), held)
    if sort in {REST, HOLD}:
        return RestScreen(desk, matrix.id, held)
    if sort == ROLL:
        return RollScreen(desk, matrix.id, cells)
    if sort == BEAT:
        return BeatScreen(desk, matrix.id, cells)
    return AllLitScreen(desk, matrix.id, cells) if sort == ALL else WalkScreen(desk, matrix.id, cells)


def resumed(desk: Desk) -> RoundScreen | None:
    """The screen of the round that the journal holds open. A round over a few cells goes on through the whole matrix;
    a walk by the beat goes on as a walk, because nobody kept time meanwhile."""
    open_round = desk.state.round
    if open_round is None:
        return None
    if open_round.kind == "roll":
        return RollScreen(desk, open_round.matrix)
    if open_round.kind == "walk":
        return WalkScreen(desk, open_round.matrix)
    scanned = any(
        scan.seq > open_round.seq and scan.reading.matrix == open_round.matrix for scan in desk.state.rest_scans
    )
    if open_round.kind == "hold" and scanned:
        return HoldScreen(desk, open_round.matrix)
    return RestScreen(desk, open_round.matrix, open_round.held)
