"""Sum up an answer in one or two lines: how complete it is, what explains how much, how sure that is."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.words.places import count_of
from matrixcheck.diagnosis.words.sentences import percent, search_caution
from matrixcheck.layout.places import CellKey
from matrixcheck.report.answer.cards import Seen
from matrixcheck.report.answer.model import Card, sureness
from matrixcheck.report.answer.ranking import Ranking
from matrixcheck.report.answer.titles import capital

STILL_LOOKING = "Still looking …"


def headline(seen: Seen, ranking: Ranking, cards: Sequence[Card], *, looking: bool) -> tuple[str, ...]:
    """Return the headline; `looking`: the search goes on."""
    first = STILL_LOOKING if looking else search_caution(ranking.diagnosis.searched)
    return tuple(filter(None, [first, f"{_found(seen, ranking, cards)} {_untested(seen)}."]))


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


def _found(seen: Seen, ranking: Ranking, cards: Sequence[Card]) -> str:
    failing, covered = failures_of(seen, ranking)
    if not seen.symptoms.marks and not failing:
        return "Nothing is tested yet:"
    shared = sum(card.kind == "shared fault" for card in cards)
    named = [count_of(shared, "shared fault")] if shared else []
    named += [_single_words(seen, ranking)] if ranking.private else []
    if not named:
        unsteady = len(seen.symptoms.unsteady)
        loose = f" but {count_of(unsteady, 'cell comes and goes', 'cells come and go')}:" if unsteady else ","
        left = f" {count_of(len(failing), 'failure')} unexplained," if failing else ""
        return f"No fault found in what was tested,{left}{loose}".replace(",,", ",").replace(", but", ", but")
    chance = ranking.sets[0].probability
    verb = "explain" if len(named) > 1 or not named[0].startswith("1 ") else "explains"
    which = f"all {len(failing)}" if covered == failing else f"{len(covered)} of {len(failing)}"
    failures = f" {verb} {which} failures" if len(failing) > 1 else ""
    return f"{' and '.join(named)}{failures}. {capital(sureness(chance))} ({percent(chance)})."


def _single_words(seen: Seen, ranking: Ranking) -> str:
    """Count single faults by device: "2 lamps", "3 single devices" where they are of several kinds."""
    devices = {seen.layout.cell(cell).device for one in ranking.private for cell in one.members[0].cells[:1]}
    one = devices.pop() if len(devices) == 1 else "single device"
    return count_of(len(ranking.private), one, {"switch": "switches"}.get(one, ""))


def _untested(seen: Seen) -> str:
    cells = [cell.key for matrix in seen.layout.matrices for cell in matrix.fitted]
    left = len(cells) - len(seen.symptoms.tested(cells))
    return f"{count_of(left, 'cell')} untested" if left else "Every cell is tested"
