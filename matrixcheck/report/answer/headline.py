"""Sum up an answer in two lines: what explains how much, how sure that is, how much is untested."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.words.places import count_of
from matrixcheck.diagnosis.words.sentences import percent
from matrixcheck.layout.places import CellKey
from matrixcheck.report.answer.cards import Seen
from matrixcheck.report.answer.model import Card, sureness
from matrixcheck.report.answer.ranking import Ranking
from matrixcheck.report.answer.titles import capital


def headline(seen: Seen, ranking: Ranking, cards: Sequence[Card], *, brief: bool) -> tuple[str, ...]:
    """Return the headline, a line of 78 each; `brief`: one line, as another one stands before it."""
    untested = _untested(seen, brief=brief)
    shared = sum(card.kind == "shared fault" for card in cards)
    single = len(ranking.private)
    if not shared and not single:
        return (_nothing_found(seen, ranking, untested),)
    failing, covered = failures_of(seen, ranking)
    which = f"all {len(failing)}" if covered == failing else f"{len(covered)} of {len(failing)}"
    chance = ranking.sets[0].probability
    sure = f"{capital(sureness(chance))} ({percent(chance)}). {untested}."
    if brief:
        what = count_of(shared + single, "fault")
        return (f"{what} for {which} failures. {sure}" if len(failing) > 1 else f"{what}. {sure}",)
    named = [count_of(shared, "shared fault")] if shared else []
    named += [_single_words(seen, ranking)] if single else []
    if len(failing) < 2:
        return (f"{' and '.join(named)}. {sure}",)
    verb = "explain" if shared + single > 1 else "explains"
    return f"{' and '.join(named)} {verb} {which} failures.", sure


def failures_of(seen: Seen, ranking: Ranking) -> tuple[frozenset[CellKey], frozenset[CellKey]]:
    """Return the cells that fail, harmless glow left out, and those of them that the best explanation covers."""
    harmless = {cell for one in ranking.glow for cell in one.explains}
    dead = seen.symptoms.dead(seen.symptoms.marks)
    failing = frozenset(cell for cell in seen.symptoms.failures if cell not in harmless or cell in dead)
    covered = {
        cell
        for one in (*ranking.shared, *ranking.private)
        for cell in (*one.explains, *(cell for fault in one.members for cell in fault.cells))
    }
    return failing, failing & covered


def _nothing_found(seen: Seen, ranking: Ranking, untested: str) -> str:
    failing, _ = failures_of(seen, ranking)
    if not seen.symptoms.marks and not failing:
        again = seen.job is not None and seen.job.due
        return f"Nothing is tested {'again since the repair' if again else 'yet'}. {untested}."
    if failing:
        return f"No fault found for {count_of(len(failing), 'failure')}. {untested}."
    unsteady = len(seen.symptoms.unsteady)
    loose = f"; {count_of(unsteady, 'cell comes and goes', 'cells come and go')}" if unsteady else ""
    return f"No fault found in what was tested{loose}. {untested}."


def _single_words(seen: Seen, ranking: Ranking) -> str:
    """Count single faults by device: "2 lamps", "3 single devices" where they are of several kinds."""
    devices = {seen.layout.cell(cell).device for one in ranking.private for cell in one.members[0].cells[:1]}
    one = devices.pop() if len(devices) == 1 else "single device"
    return count_of(len(ranking.private), one, {"switch": "switches"}.get(one, ""))


def _untested(seen: Seen, *, brief: bool) -> str:
    """Count the untested cells, and in two lines those of them that wait for a retest."""
    cells = [cell.key for matrix in seen.layout.matrices for cell in matrix.fitted]
    left = len(cells) - len(seen.symptoms.tested(cells))
    due = len(seen.job.due) if seen.job and not brief else 0
    retests = f", {due} due for a retest" if due else ""
    return f"{count_of(left, 'cell')} untested{retests}" if left else "Every cell is tested"
