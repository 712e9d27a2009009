"""The report as one self-contained HTML page that prints on A4."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined

from matrixcheck.diagnosis.words.sentences import percent
from matrixcheck.report import cautions
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.text import first_words, step_words, sure_words, where_words
from matrixcheck.report.glyphs import FILLS, GLYPHS, SIGNS_LEGEND
from matrixcheck.report.grids import squares_of
from matrixcheck.report.later import by_reach
from matrixcheck.report.outcomes import outcomes_of
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.stop import notice
from matrixcheck.report.words import coverage_words, moment


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
        "coverage_words": coverage_words,
        "moment": moment,
        "outcomes": outcomes_of,
        "percent": percent,
        "sure_words": sure_words,
        "where_words": where_words,
        "first_words": first_words,
        "step_words": step_words,
    }
    answer = answer_of_job(sheet.diagnosis, sheet.state)
    return environment.get_template("sheet.html.j2").render(
        state=sheet.state,
        diagnosis=sheet.diagnosis,
        answer=answer,
        coverage=sheet.coverage,
        later=by_reach(sheet.later),
        printed_at=sheet.printed_at,
        squares=lambda matrix: squares_of(matrix, sheet.state.standings),
        cautions=cautions,
        fills=FILLS,
        glyphs=GLYPHS,
        signs_legend=SIGNS_LEGEND,
        danger=notice(sheet.state.coils),
        stop=sheet.state.coils.stop,
    )
