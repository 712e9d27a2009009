"""How a job stood before each of its repairs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from matrixcheck.record.cell_state import Standings
from matrixcheck.record.events import Repaired
from matrixcheck.record.folding import Folding
from matrixcheck.record.job_state import FindingMade, JobState, RepairMade
from matrixcheck.record.replay import replay


class Before(NamedTuple):
    """What was known just before a repair: how the cells stood, and the bench checks that held."""

    standings: Standings
    findings: tuple[FindingMade, ...]


def before_each_repair(state: JobState) -> Iterator[tuple[RepairMade, Before]]:
    """Yield every repair that counts, oldest first, as it stands now, with what was known just before it."""
    opening, *events = state.history
    folding = Folding(replay([opening]))
    made = iter(state.repairs)
    for one in events:
        if isinstance(one.event, Repaired):
            now = folding.state()
            yield next(made), Before(now.standings, now.findings)
        folding.take(one)
