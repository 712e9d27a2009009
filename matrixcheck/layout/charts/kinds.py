"""Which kind of matrix a chart is of, where no word of it says so."""

from __future__ import annotations

from matrixcheck.layout.charts.questions import Answers, Question
from matrixcheck.layout.model import Kind


def asked_kind(chart: str, count: int, answers: Answers) -> Kind:
    """Return what is answered; `count` is that of the chart among all."""
    question = Question(f"kind.{count}", f"{chart}: switch, lamp or coil?", tuple(Kind), Kind.SWITCH)
    return Kind(answers.to(question))
