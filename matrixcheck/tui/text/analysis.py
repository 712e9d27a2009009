"""Word a diagnosis for the screens.

It is called beside the analysis, off the event loop, and imported there: the analyser is the one heavy import of the
program, and no screen waits for it.
"""

from __future__ import annotations

from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.diagnosis.words.sentences import limits, percent, search_caution, summary
from matrixcheck.layout.model import Layout
from matrixcheck.report.ranking import NO_FAULT, Ranking, ranked
from matrixcheck.tui.text.suspects import STILL_LOOKING, Analysis, Named


def analysis_of(diagnosis: Diagnosis, layout: Layout, *, looking: bool = False) -> Analysis:
    """Return the suspects worth a line under their headings, with a verdict.

    The likeliest set, what is also possible, what glows by itself, single cells. Where a shared fault is suspected the
    verdict is only the limits of the search; else a sentence sums the diagnosis up. `looking`: the search goes on, and
    a better diagnosis follows.
    """
    ranking = ranked(diagnosis)
    found = (
        (_heading(ranking), ranking.shared),
        ("Also possible", ranking.others),
        (NO_FAULT, ranking.glow),
        ("One device only", ranking.private),
    )
    groups = tuple(
        (heading, tuple(Named(suspect, percent(suspect.probability)) for suspect in suspects))
        for heading, suspects in found
        if suspects
    )
    merged = ranking.diagnosis
    verdict = limits(merged) if ranking.shared else summary(merged, layout)
    first = STILL_LOOKING if looking else search_caution(diagnosis.searched)
    return Analysis(merged, verdict, groups, diagnosis.danger, first)


def _heading(ranking: Ranking) -> str:
    together = len(ranking.shared) + len(ranking.private) > 1
    return f"Best explanation, {percent(ranking.sets[0].probability)}" if together else "Most likely"
