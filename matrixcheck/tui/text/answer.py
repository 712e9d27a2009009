"""The answer as lines for a screen."""

from __future__ import annotations

from matrixcheck.report.answer.model import Answer
from matrixcheck.report.answer.text import answer_lines
from matrixcheck.tui.text.spans import Row, row


def answer_rows(answer: Answer, width: int) -> tuple[Row, ...]:
    """Return danger, headline, cards, what else is possible and what is left open, headings strong."""
    return tuple(row(line.text, "strong" if line.strong else "plain") for line in answer_lines(answer, width))
