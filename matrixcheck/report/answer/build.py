"""Build the answer from a diagnosis and what was recorded."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.diagnosis.words.sentences import search_caution
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading
from matrixcheck.record.job_state import JobState
from matrixcheck.report.answer.also_possible import also_possible
from matrixcheck.report.answer.cards import Seen, cards_of
from matrixcheck.report.answer.headline import headline
from matrixcheck.report.answer.left_open import left_open
from matrixcheck.report.answer.model import STILL_LOOKING, Answer
from matrixcheck.report.answer.next_steps import next_steps
from matrixcheck.report.answer.ranking import ranked
from matrixcheck.report.answer.symptoms import symptoms


def answer_of_job(diagnosis: Diagnosis, state: JobState, *, looking: bool = False) -> Answer:
    """Return the answer to a job as it stands; `looking`: the search goes on, and a better one follows."""
    return answer_of(diagnosis, state.layout, state.judged, state, looking=looking)


def answer_of(
    diagnosis: Diagnosis,
    layout: Layout,
    readings: Sequence[Reading],
    job: JobState | None = None,
    *,
    looking: bool = False,
) -> Answer:
    """Return the answer to readings; `job` adds its safety checks, findings and retests."""
    if diagnosis.stop:
        return Answer(danger=diagnosis.danger, stop=True)
    ranking = ranked(diagnosis)
    seen = Seen(layout, readings, symptoms(layout, readings), job)
    cards = cards_of(seen, ranking)
    unfinished = STILL_LOOKING if looking else search_caution(diagnosis.searched)
    return Answer(
        danger=diagnosis.danger,
        unfinished=unfinished,
        headline=headline(seen, ranking, cards, brief=bool(unfinished)),
        cards=cards,
        also_possible=also_possible(layout, ranking, cards),
        next=next_steps(ranking, cards),
        left_open=left_open(seen, ranking.diagnosis),
        rates=diagnosis.rates,
    )
