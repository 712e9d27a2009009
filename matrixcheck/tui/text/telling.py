"""A diagnosis put into words for the screens. It is called beside the analysis, off the event loop, and imported there:
the analyser is the one heavy import of the program, and no screen waits for it."""

from __future__ import annotations

from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.diagnosis.wording import percent, summary
from matrixcheck.layout.model import Layout
from matrixcheck.report.ranking import NO_FAULT, ranked
from matrixcheck.tui.text.suspects import Named, Told


def tell(diagnosis: Diagnosis, layout: Layout) -> Told:
    """The whole diagnosis in a sentence, and the suspects worth a line under their headings: the likeliest set, what
    else it could be, what glows by itself, single cells."""
    ranking = ranked(diagnosis)
    found = (
        ("", ranking.shared),
        ("What else it could be", ranking.others),
        (NO_FAULT, ranking.glow),
        ("With a cause of their own", ranking.private),
    )
    groups = tuple(
        (heading, tuple(Named(suspect, percent(suspect.probability)) for suspect in suspects))
        for heading, suspects in found
        if suspects
    )
    return Told(diagnosis, summary(diagnosis, layout), groups)
