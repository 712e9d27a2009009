"""From a sort of round to its screen; and back to an open round, from the journal alone."""

from __future__ import annotations

from collections.abc import Collection

from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.events import RoundKind, WalkManner
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.screens.all_lit import AllLitScreen
from matrixcheck.tui.screens.hold import HoldScreen
from matrixcheck.tui.screens.rest import RestScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.screens.timed_walk import TimedWalkScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.text.choosing import ALL, COILS_AT_REST, HOLD, REST, ROLL, TIMED, Sort

KINDS: dict[Sort, RoundKind] = {ROLL: "roll", REST: "rest", COILS_AT_REST: "rest", HOLD: "hold"}
MANNERS: dict[Sort, WalkManner] = {TIMED: "paced", ALL: "all-lit"}
WALKS: dict[WalkManner, type[RoundScreen]] = {"stepped": WalkScreen, "paced": TimedWalkScreen, "all-lit": AllLitScreen}


def begun(
    desk: Desk, matrix: Matrix, sort: Sort, cells: Collection[CellKey] = (), held: tuple[CellKey, ...] = ()
) -> RoundScreen:
    """Have a round begun; its screen, which needn't wait for that. Raises MatrixCheckError when it can't begin."""
    kind, manner = KINDS.get(sort, "walk"), MANNERS.get(sort, "stepped")
    desk.round_began = None
    screen = _screen(desk, matrix.id, kind=kind, manner=manner, cells=cells, held=held)
    desk.start_round(
        matrix,
        kind,
        held,
        cells=cells,
        manner=manner,
        outcome=screen.outcome(lambda _: screen.after_change(), screen.not_begun),
        dropped=lambda: screen.call_later(screen.not_begun),
    )
    return screen


def resumed(desk: Desk) -> RoundScreen | None:
    """The screen of the round that the journal holds open."""
    open_round = desk.state.round
    if open_round is None:
        return None
    desk.round_began = open_round.seq
    scanned = any(
        scan.seq > open_round.seq and scan.reading.matrix == open_round.matrix for scan in desk.state.rest_scans
    )
    if open_round.kind == "hold" and scanned:
        return HoldScreen(desk, open_round.matrix, open_round.held)
    return _screen(
        desk,
        open_round.matrix,
        kind=open_round.kind,
        manner=open_round.manner,
        cells=open_round.cells,
        held=open_round.held,
    )


def _screen(
    desk: Desk,
    matrix_id: str,
    *,
    kind: RoundKind,
    manner: WalkManner,
    cells: Collection[CellKey],
    held: tuple[CellKey, ...],
) -> RoundScreen:
    if kind == "roll":
        return RollScreen(desk, matrix_id, cells)
    if kind == "walk":
        return WALKS[manner](desk, matrix_id, cells)
    return RestScreen(desk, matrix_id, held)
