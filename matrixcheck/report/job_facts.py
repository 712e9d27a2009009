"""What a report is made of, worked out once from a sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from matrixcheck.diagnosis.result import Suspect
from matrixcheck.layout.places import CellKey
from matrixcheck.record.function_lists import FunctionLine, function_lists
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import SafetyItem, checklist
from matrixcheck.record.summary import LaterItem
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.model import Answer, Card
from matrixcheck.report.answer.ranking import Ranking, ranked
from matrixcheck.report.counts import Counts, counted, glowing_cells
from matrixcheck.report.document import Head, Pictures
from matrixcheck.report.photos import pictures_of
from matrixcheck.report.repair_results import RepairResult, repair_results
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.words import moment


class CardOf(NamedTuple):
    """A card with the suspect that it shows."""

    card: Card
    suspect: Suspect


@dataclass(frozen=True, slots=True)
class JobFacts:
    """A job as its report tells it. `counts` go by matrix id, in the layout's order."""

    head: Head
    state: JobState
    ranking: Ranking
    answer: Answer
    glowing: frozenset[CellKey]
    counts: Mapping[str, Counts]
    later: tuple[LaterItem, ...]
    repairs: tuple[RepairResult, ...]
    safety: tuple[SafetyItem, ...]
    functions: tuple[FunctionLine, ...]
    photos: Pictures

    @property
    def faults(self) -> tuple[CardOf, ...]:
        """Return the cards of faults with their suspects, in their order; no failed safety check is among them."""
        return self._of_kind("shared fault", "single cell")

    @property
    def harmless(self) -> tuple[CardOf, ...]:
        """Return the cards of what is no fault, with their suspects."""
        return self._of_kind("no fault")

    def _of_kind(self, *kinds: str) -> tuple[CardOf, ...]:
        suspects = {suspect.id: suspect for suspect in self.ranking.diagnosis.suspects}
        return tuple(CardOf(card, suspects[card.suspect]) for card in self.answer.cards if card.kind in kinds)


def facts_of(sheet: Sheet) -> JobFacts:
    """Return the facts of a sheet.

    The date in the head is that of the last entry, so that a job gives the same report at any time.
    """
    state = sheet.state
    glowing = glowing_cells(sheet.diagnosis, state.standings)
    visit = moment(state.history[-1].at).partition(" ")[0]
    return JobFacts(
        Head(state.name, state.layout.name, state.serial, state.owner, state.id, visit),
        state,
        ranked(sheet.diagnosis),
        answer_of_job(sheet.diagnosis, state),
        glowing,
        counted(state, glowing),
        sheet.later,
        repair_results(state),
        checklist(state),
        function_lists(state),
        pictures_of(state, sheet.photos),
    )
