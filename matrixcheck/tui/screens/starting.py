"""From a sort of round to its screen; and back to an open round, from the journal alone."""

from __future__ import annotations

from collections.abc import Collection

from matrixcheck.errors import UsageError
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.events import RoundKind, WalkManner
from matrixcheck.tui.desk import Desk
from matrixcheck.tui.screens.all_lit import AllLitScreen
from matrixcheck.tui.screens.beat import BeatScreen
from matrixcheck.tui.screens.hold import HoldScreen
from matrixcheck.tui.screens.rest import RestScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.text.choosing import ALL, BEAT, COILS_AT_REST, HOLD, REST, ROLL, Sort

KINDS: dict[Sort, RoundKind] = {ROLL: "roll", REST: "rest", COILS_AT_REST: "rest", HOLD: "hold"}
MANNERS: dict[Sort, WalkManner] = {BEAT: "paced", ALL: "all-lit"}
WALKS: dict[WalkManner, type[RoundScreen]] = {"stepped": WalkScreen, "paced": BeatScreen, "all-lit": AllLitScreen}


def begun(
    desk: Desk, matrix: Matrix, sort: Sort, cells: Collection[CellKey] = (), held: tuple[CellKey, ...] = ()
) -> RoundScreen:
    """Begin a round in the journal; its screen. Raises MatrixCheckError when it can't begin."""
    desk.start_round(matrix, KINDS.get(sort, "walk"), held, cells=cells, manner=MANNERS.get(sort, "stepped"))
    screen = resumed(desk)
    if screen is None:
        raise UsageError("another program ended the round at once", "start it again")
    return screen


def resumed(desk: Desk) -> RoundScreen | None:
    """The screen of the round that the journal holds open."""
    open_round = desk.state.round
    if open_round is None:
        return None
    if open_round.kind == "roll":
        return RollScreen(desk, open_round.matrix, open_round.cells)
    if open_round.kind == "walk":
        return WALKS[open_round.manner](desk, open_round.matrix, open_round.cells)
    scanned = any(
        scan.seq > open_round.seq and scan.reading.matrix == open_round.matrix for scan in desk.state.rest_scans
    )
    if open_round.kind == "hold" and scanned:
        return HoldScreen(desk, open_round.matrix)
    return RestScreen(desk, open_round.matrix, open_round.held)
