"""Every way from one screen to another. Screens know this module and no other screen; this one makes them by name.

A screen is imported when it is first gone to: the first paint must not wait for any other.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Collection, Mapping, Sequence
from functools import partial
from importlib import import_module
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Protocol

from textual.app import App

from matrixcheck.bench import Bench, JobSummary
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.coil_lock import is_coil_fuse
from matrixcheck.record.events import RoundKind, WalkManner
from matrixcheck.report.cautions import BY_KIND
from matrixcheck.report.rounds import ALL, COILS_AT_REST, HOLD, IN_ANY_ORDER, REST, ROLL, TIMED, WALK, Sort
from matrixcheck.report.safety import failed_lines
from matrixcheck.report.stop import notice
from matrixcheck.tui.job_session import NOTHING, Desk, Refused, RoundLeft
from matrixcheck.tui.keeping import Keeping
from matrixcheck.tui.text.keys import Cap
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.text.suspects import Analysis, proposed_holds

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Suspect
    from matrixcheck.record.job_state import RepairMade
    from matrixcheck.report.later import Waiting

SCREENS: Mapping[str, str] = MappingProxyType(
    {
        "job": "job.JobScreen",
        "roll": "roll.RollScreen",
        "hold": "hold.HoldScreen",
        "walk": "walk.WalkScreen",
        "timed walk": "timed_walk.TimedWalkScreen",
        "all at once": "all_lit.AllLitScreen",
        "rest scan": "rest.RestScreen",
        "bench": "bench.BenchScreen",
        "answer": "answer.AnswerScreen",
        "checks": "checks.ChecksScreen",
        "parts": "checks.PartsScreen",
        "repair": "repair.RepairScreen",
        "safety": "safety.SafetyScreen",
        "functions": "functions.FunctionsScreen",
        "log": "log.LogScreen",
        "later list": "later.LaterScreen",
        "choose a round": "choose_round.ChooseRoundScreen",
        "choose what to hold": "choose_hold.ChooseHoldScreen",
        "find": "find.FindScreen",
        "words": "words.WordsScreen",
        "question": "ask.AskScreen",
        "stop": "stop.StopScreen",
        "not kept": "waiting.WaitingScreen",
        "new job": "new_job.NewJobScreen",
        "a chart": "import_chart.ImportChartScreen",
        "edit a job": "edit_job.EditJobScreen",
        "what changed": "compare.CompareScreen",
        "put right": "correct.CorrectScreen",
        "help": "help.HelpScreen",
    }
)
"""The class of each screen, in its module of `screens/`, by the name of its place in the table of actions."""

KINDS: Mapping[Sort, RoundKind] = MappingProxyType(
    {ROLL: "roll", IN_ANY_ORDER: "roll", REST: "rest", COILS_AT_REST: "rest", HOLD: "hold"}
)
MANNERS: Mapping[Sort, WalkManner] = MappingProxyType({TIMED: "paced", ALL: "all-lit"})
WALKS: Mapping[WalkManner, str] = MappingProxyType({"stepped": "walk", "paced": "timed walk", "all-lit": "all at once"})


class AtJob(Protocol):
    """What the ways from a job's screen need of it."""

    @property
    def desk(self) -> Desk:
        """Return the job."""

    @property
    def analysis(self) -> Analysis | None:
        """Return the diagnosis that is shown."""

    def tell(self, words: str) -> None:
        """Say what was kept."""

    def complain(self, error: MatrixCheckError) -> None:
        """Say in place what was refused."""

    def round_left(self, closing: Callable[[], Sequence[str]]) -> None:
        """Say what a round that was left came to."""


def screen_class(name: str) -> Any:
    """Give the class of a screen."""
    module, _, kind = SCREENS[name].rpartition(".")
    return getattr(import_module(f"matrixcheck.tui.screens.{module}"), kind)


class Navigation:
    """The ways of one program, between the screens of its bench."""

    def __init__(
        self,
        app: App[Any],
        bench: Bench,
        keeping: Keeping,
        desk_of: Callable[[str], Desk],
        *,
        own_layouts: bool,
        layouts: Path | None,
    ) -> None:
        self._app = app
        self._bench = bench
        self._keeping = keeping
        self._desk_of = desk_of
        self._own_layouts = own_layouts
        self._layouts = layouts

    # The program

    def bench(self) -> None:
        """Show the bench."""
        self._show(screen_class("bench")(self._bench, self._keeping))

    def job(self, job: str) -> None:
        """Show a job. Raises MatrixCheckError."""
        self._show(screen_class("job")(self._desk_of(job)))

    @property
    def own_layouts(self) -> bool:
        """Return whether files of this computer may be named."""
        return self._own_layouts

    def import_chart(self, written: Callable[[str | None], None]) -> None:
        """Let a layout be made of a chart; `written` gets the path of its file."""
        self._show(screen_class("a chart")(), written)

    def new_job(self, opened: Callable[[str | None], None], layout: str = "") -> None:
        """Let a machine be put on the bench; `opened` gets the new job's id."""
        self._show(screen_class("new job")(self._bench, self._own_layouts, self._layouts, layout), opened)

    def edit_job(self, job: JobSummary, edited: Callable[[Mapping[str, str] | None], None]) -> None:
        """Let what is known of a job be put right; `edited` gets what was changed."""
        self._show(screen_class("edit a job")(job), edited)

    def compare(self, job: str, before: str) -> None:
        """Show what changed since another visit. Raises MatrixCheckError where none is known."""
        then, changes = self._bench.changed_since(job, before)
        self._show(screen_class("what changed")(then, self._bench.state(job), changes))

    def not_kept(self, elsewhere: Callable[[Path, Refused], object]) -> None:
        """Show what waits to be kept. Over the network nobody names files of this computer, to go on `elsewhere`."""
        self._show(screen_class("not kept")(self._keeping, elsewhere if self._own_layouts else None))

    # Sheets over any screen

    def ask(self, question: str, more: str, answered: Callable[[bool | None], None]) -> None:
        """Ask a question; the answer is whether it was yes."""
        self._show(screen_class("question")(question, more), answered)

    def words(
        self,
        heading: str,
        hint: str,
        written: Callable[[str | None], None],
        offered: Sequence[str] = (),
        *,
        may_be_empty: bool = False,
        begun: str = "",
        left: Callable[[str], object] = lambda _: None,
    ) -> None:
        """Let a few words be typed, or one of those `offered` be picked.

        `begun` is typed already; `left` gets what is typed when this is left.
        """
        asked = screen_class("words")(heading, hint, offered, may_be_empty=may_be_empty, begun=begun, left=left)
        self._show(asked, written)

    def find(self, heading: str, names: Sequence[str], found: Callable[[int | None], Awaitable[None]]) -> None:
        """Let one of the names be found by a few letters; `found` gets its place."""
        self._show(screen_class("find")(heading, names), found)

    def help(
        self,
        heading: str,
        caps: Sequence[Cap],
        notes: Sequence[Sequence[Row]],
        chosen: Callable[[Cap | None], Awaitable[None]],
    ) -> None:
        """Show keys; `chosen` gets one that was tapped."""
        self._show(screen_class("help")(heading, caps, notes), chosen)

    # Beside a job

    def page(self, name: str, desk: Desk) -> None:
        """Show a page of a job that needs no more than the job."""
        self._show(screen_class(name)(desk))

    def note(self, begun: dict[str, str], heading: str, keep: Callable[[str], object]) -> None:
        """Let a note be written; `keep` gets it. Half a note that is left waits in `begun`, under its heading."""

        def written(words: str | None) -> None:
            if words is not None:
                keep(words)

        def left(typed: str) -> None:
            begun[heading] = typed

        self.words(heading, "your words, then Enter", written, begun=begun.pop(heading, ""), left=left)

    def later_list(self, at: AtJob) -> None:
        """Show the later list; a group of it can become a round."""

        def chosen(group: Waiting | None) -> None:
            if group is not None:
                self.choose_round(at, group.matrix_id, [item.cell for item in group.items])

        self._show(screen_class("later list")(at.desk), chosen)

    def checks(self, at: AtJob, analysis: Analysis, suspect: Suspect) -> None:
        """Show the bench checks of a suspect."""
        from matrixcheck.report.spots import spots_of  # noqa: PLC0415
        from matrixcheck.tui.text.checking import suspect_rows  # noqa: PLC0415

        proposed = [one for one in analysis.diagnosis.checks if suspect.id in (one.suspects or (one.suspect,))]
        card = analysis.card_of(suspect)
        rows = partial(suspect_rows, card.title if card else "", proposed)
        self._show(screen_class("checks")(at.desk, "Bench checks", rows, spots_of(suspect, proposed)))

    def parts(self, at: AtJob, cell: Cell) -> None:
        """Show the places that a cell works through."""
        from matrixcheck.report.spots import Spot, places_behind  # noqa: PLC0415
        from matrixcheck.tui.text.checking import cell_rows  # noqa: PLC0415

        places = [Spot(place) for place in places_behind(cell, at.desk.layout)]
        self._show(screen_class("parts")(at.desk, "Parts", partial(cell_rows, cell), places))

    def repair(self, desk: Desk, places: Sequence[str], kept: Callable[[RepairMade], object]) -> None:
        """Let a repair be kept, of one of these places or of anything else; `kept` gets it then."""
        self._show(screen_class("repair")(desk, places, kept))

    def correct(self, at: AtJob, cell: Cell) -> None:
        """Let the layout be put right at a cell and its lines. Over the network no file is written, only the job."""
        from matrixcheck.tui.text.correcting import corrected_words, where_words  # noqa: PLC0415

        desk, own = at.desk, self._own_layouts
        self._show(
            screen_class("put right")(
                desk,
                cell,
                where_words(desk.state.source, own=own),
                lambda changes: desk.bench.correct(desk.job, changes, own_file=own),
                lambda done: at.tell(corrected_words(done)),
            )
        )

    def stop(self, at: AtJob) -> None:
        """Say that a coil is on at rest, and let it be recorded that its fuse is out."""
        self.page("stop", at.desk)

    # Rounds

    def choose_round(self, at: AtJob, matrix_id: str, cells: Sequence[CellKey] = ()) -> None:
        """Let a round through a matrix, or some cells of it, be chosen, and begin it. Not while a coil is on."""
        state = at.desk.state
        if state.coils.stop:
            self.stop(at)
            return
        matrix = at.desk.layout.matrix(matrix_id)

        def chosen(sort: Sort | None) -> None:
            if sort == HOLD:
                self._choose_hold(at, matrix)
            elif sort is not None:
                self._begin(at, matrix, sort, cells, listed=True)

        some = [matrix.by_key[key] for key in cells if key in matrix.by_key]
        checked = any(not is_coil_fuse(one.item) for one in state.safety)
        danger = tuple(filter(None, (notice(state.coils), *failed_lines(state.safety))))
        sheet = screen_class("choose a round")(matrix, some, checked=checked, danger=danger)
        self._show(sheet, chosen)

    def retest(self, at: AtJob, matrix_id: str) -> None:
        """Walk through just what is due for a retest in a matrix."""
        matrix = at.desk.layout.matrix(matrix_id)
        cells = [key for key in at.desk.state.due if key.matrix == matrix_id]
        self._begin(at, matrix, WALK, cells, caution=BY_KIND[matrix.kind])

    def resume(self, at: AtJob) -> None:
        """Take up the round that the journal holds open, or end it where a coil was on at rest."""
        desk, state = at.desk, at.desk.state
        open_round = state.round
        if open_round is None:
            return
        if not state.coils.allows(open_round.matrix, rest_scan=open_round.kind == "rest"):
            desk.end_round(NOTHING)
            return
        desk.round_began = open_round.seq
        scanned = any(
            scan.seq > open_round.seq and scan.reading.matrix == open_round.matrix for scan in state.rest_scans
        )
        if open_round.kind == "hold" and scanned:
            self._show_round(at, screen_class("hold")(desk, open_round.matrix, open_round.held))
            return
        screen = _round(
            desk,
            open_round.matrix,
            kind=open_round.kind,
            manner=open_round.manner,
            cells=open_round.cells,
            held=open_round.held,
        )
        self._show_round(at, screen)

    def hold_on(self, desk: Desk, matrix_id: str, held: tuple[CellKey, ...], left: RoundLeft) -> None:
        """Go on after the rest scan of a hold round: press one switch after the other; `left` as that scan had it."""
        screen = screen_class("hold")(desk, matrix_id, held)
        screen.left = left
        self._app.switch_screen(screen)

    def _choose_hold(self, at: AtJob, matrix: Matrix) -> None:
        def chosen(held: tuple[CellKey, ...] | None) -> None:
            if held:
                self._begin(at, matrix, HOLD, held=held, listed=True)

        self._show(screen_class("choose what to hold")(matrix, proposed_holds(at.analysis, matrix.id)), chosen)

    def _begin(
        self,
        at: AtJob,
        matrix: Matrix,
        sort: Sort,
        cells: Sequence[CellKey] = (),
        *,
        held: tuple[CellKey, ...] = (),
        caution: str = "",
        listed: bool = False,
    ) -> None:
        """Have a round begun, and show its screen, which needn't wait for that; say it where it can't begin.

        `listed`: it was chosen from a list, so that an Enter that follows may still be meant for that.
        """
        kind, manner, desk = KINDS.get(sort, "walk"), MANNERS.get(sort, "stepped"), at.desk
        desk.round_began = None
        screen = _round(desk, matrix.id, kind=kind, manner=manner, cells=cells, held=held)
        screen.caution = caution
        if listed:
            screen.hold_enter()
        try:
            desk.start_round(
                matrix,
                kind,
                held,
                cells=cells,
                manner=manner,
                outcome=screen.outcome(lambda _: screen.after_change(), screen.not_begun),
                dropped=lambda: screen.call_later(screen.not_begun),
            )
        except MatrixCheckError as error:
            at.complain(error)
            return
        self._show_round(at, screen)

    def _show_round(self, at: AtJob, screen: Any) -> None:
        screen.left = at.round_left
        self._show(screen)

    def _show(self, screen: Any, left: Callable[[Any], Any] | None = None) -> None:
        self._app.push_screen(screen, left)


def _round(
    desk: Desk,
    matrix_id: str,
    *,
    kind: RoundKind,
    manner: WalkManner,
    cells: Collection[CellKey],
    held: tuple[CellKey, ...],
) -> Any:
    if kind == "roll":
        return screen_class("roll")(desk, matrix_id, cells)
    if kind == "walk":
        return screen_class(WALKS[manner])(desk, matrix_id, cells)
    return screen_class("rest scan")(desk, matrix_id, held)
