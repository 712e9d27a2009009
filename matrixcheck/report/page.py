"""The report as one self-contained HTML page that prints on A4."""

from __future__ import annotations

from functools import partial

from jinja2 import Environment, PackageLoader, StrictUndefined

from matrixcheck.diagnosis.words.sentences import percent, search_caution, summary
from matrixcheck.report import cautions
from matrixcheck.report.glyphs import FILLS, GLYPHS, SIGNS_LEGEND
from matrixcheck.report.grids import squares_of
from matrixcheck.report.later import by_reach
from matrixcheck.report.outcomes import outcomes_of
from matrixcheck.report.ranking import NO_FAULT, ranked
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.stop import notice
from matrixcheck.report.words import NOTHING_SHARED, cells_words, coverage_words, moment


def page(sheet: Sheet) -> str:
    """Return the sheet as HTML. Whatever was typed into the job or its layout comes out as text, never as markup."""
    environment = Environment(
        loader=PackageLoader("matrixcheck.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "cells": partial(cells_words, layout=sheet.state.layout),
        "coverage_words": coverage_words,
        "moment": moment,
        "outcomes": outcomes_of,
        "percent": percent,
    }
    ranking = ranked(sheet.diagnosis)
    return environment.get_template("sheet.html.j2").render(
        state=sheet.state,
        diagnosis=ranking.diagnosis,
        coverage=sheet.coverage,
        later=by_reach(sheet.later),
        printed_at=sheet.printed_at,
        squares=lambda matrix: squares_of(matrix, sheet.state.standings),
        cautions=cautions,
        fills=FILLS,
        glyphs=GLYPHS,
        signs_legend=SIGNS_LEGEND,
        ranking=ranking,
        caution=search_caution(sheet.diagnosis.searched),
        verdict=summary(ranking.diagnosis, sheet.state.layout),
        nothing_shared=NOTHING_SHARED,
        no_fault=NO_FAULT,
        danger=notice(sheet.state.coils),
        stop=sheet.state.coils.stop,
    )
