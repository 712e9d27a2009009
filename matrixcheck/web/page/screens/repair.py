"""A repair: the form, what a name stands for, and how the repairs kept so far stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.wording import place_words
from matrixcheck.record.job_state import JobState, RepairMade
from matrixcheck.report.cautions import INSIDE
from matrixcheck.report.repairing import ASKED, outside_words, usual_work, what_is_meant
from matrixcheck.report.retests import closing_words
from matrixcheck.report.words import moment
from matrixcheck.web.page.screens.head import JobHead, head_of
from matrixcheck.web.page.screens.known import Known
from matrixcheck.web.page.screens.later import round_address


@dataclass(frozen=True)
class Retest:
    """Cells of one matrix that are due for a retest, and the way into a round through them."""

    words: str
    href: str


@dataclass(frozen=True)
class Made:
    """A repair that was kept: where, when, what was done, and what its retest came to."""

    place: str
    at: str
    said: str
    stands: str
    retests: Sequence[Retest]


@dataclass(frozen=True)
class RepairScreen:
    """The form as it stands: the place that is named, what it means or what is wrong with that, and the usual work."""

    head: JobHead
    what: str
    outside: bool
    meant: str
    wrong: bool
    usual: str
    places: Sequence[Known]
    made: Sequence[Made]
    due: Sequence[Retest]
    caution: str
    version: int


def repair_screen(state: JobState, what: str, outside: bool, places: Sequence[Known], version: int = 0) -> RepairScreen:
    """Return what the page of repairs shows; `places` are those at hand, likeliest first, by the answer `version`."""
    meant, wrong = ASKED, False
    if what and outside:
        meant = outside_words(what)
    elif what:
        try:
            meant = what_is_meant(what, state.layout)
        except MatrixCheckError as error:
            meant, wrong = f"! {error}", True
    return RepairScreen(
        head_of(state),
        place_words(state.layout, what) if what and not (outside or wrong) else what,
        outside,
        meant,
        wrong,
        "" if outside or not what else usual_work(what, state.layout),
        places,
        [_made(one, state) for one in reversed(state.repairs)],
        retests_of(state, state.due),
        INSIDE,
        version,
    )


def retests_of(state: JobState, cells: Sequence[CellKey]) -> tuple[Retest, ...]:
    """Return the ways into the retests of cells, by matrix."""
    found = []
    for name in state.layout.matrix_ids:
        own = [key for key in cells if key.matrix == name]
        if own:
            words = f"Test again: {len(own)} {'cell' if len(own) == 1 else 'cells'} of {name}"
            found.append(Retest(words, round_address(state, name, own)))
    return tuple(found)


def _made(one: RepairMade, state: JobState) -> Made:
    place = one.place if one.outside else place_words(state.layout, one.place)
    waits = [key for key in state.standings if key in one.due and key not in one.passed | one.failed]
    due = [key for key in waits if state.standings[key].retest_due is not None]
    return Made(place, moment(one.at), one.said, closing_words(state, one), retests_of(state, due))
