"""The report as plain text of 80 columns, for a printer, a mail or a pipe."""

from __future__ import annotations

import io

from rich.console import Console

from matrixcheck.report import cautions, tables
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.full import answer_in_full
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.stop import notice
from matrixcheck.report.words import moment

WIDTH = 80


def plain(sheet: Sheet, width: int = WIDTH) -> str:
    """Return the sheet in lines of at most `width` signs, without colour or control codes."""
    text = io.StringIO()
    console = Console(file=text, width=width, color_system=None, force_terminal=False, highlight=False, markup=False)

    def title(words: str) -> None:
        console.print(f"\n{words.upper()}\n{'-' * len(words)}")

    state, danger = sheet.state, notice(sheet.state.coils)
    if danger:
        console.print(f"{danger}\n")
    console.print(tables.job_head(state))
    console.print(f"printed  {moment(sheet.printed_at)}\n")
    for caution in (cautions.BEFORE_POWER, cautions.INSIDE, cautions.DEFER):
        console.print(caution)
    title("How far it is tested")
    console.print(tables.coverage_table(sheet.coverage))
    title("Safety checks")
    for check in state.safety:
        result = "passed" if check.passed else "FAILED"
        console.print(f"{moment(check.at)}  {result}  {check.item}  {check.note}".rstrip())
    if not state.safety:
        console.print("None is recorded.")
    if not state.coils.stop:
        title("Suspects")
        answer = answer_of_job(sheet.diagnosis, state).model_copy(update={"danger": ""})
        console.print("\n".join(line.text for line in answer_in_full(answer, sheet.diagnosis, width)))
    title("Checked and repaired")
    for finding in state.findings:
        console.print(f"{moment(finding.at)}  {finding.place} {finding.verdict}  {finding.note}".rstrip())
    for repair in state.repairs:
        console.print(f"{moment(repair.at)}  {repair.place} repaired  {repair.note}".rstrip())
    if not (state.findings or state.repairs):
        console.print("Nothing is recorded.")
    title("Grids")
    for matrix in state.layout.matrices:
        console.print(tables.grid(matrix, state.standings, sheet.coverage[matrix.id], width))
    console.print(tables.legend())
    if not state.coils.stop:
        title("Later")
        console.print(tables.later(sheet.later))
    if state.notes:
        title("Notes")
    for note in state.notes:
        console.print(f"{moment(note.at)}  {note.text}")
    console.print("\nTested by ____________________   Date ____________   Signature ________________")
    return "\n".join(line.rstrip() for line in text.getvalue().splitlines()) + "\n"
