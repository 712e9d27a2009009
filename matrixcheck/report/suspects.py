"""What a diagnosis says to a person, as rich renderables: the verdict, the suspects, what would decide."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from matrixcheck.diagnosis.result import BenchCheck, Diagnosis, NextTest, Suspect
from matrixcheck.diagnosis.words.sentences import percent, search_caution, summary
from matrixcheck.layout.model import Layout
from matrixcheck.report.outcomes import outcomes_of
from matrixcheck.report.ranking import NO_FAULT, ranked
from matrixcheck.report.words import NOTHING_SHARED, cells_words

CELLS_NAMED = 6


def suspects(diagnosis: Diagnosis, layout: Layout) -> RenderableType:
    """Return the verdict, the likeliest set of suspects at length, what else is possible, and what would decide.

    What is a danger comes first, and stands alone where nothing else may be said; then what the search left out.
    """
    if diagnosis.stop:
        return Text(diagnosis.danger, "bold")
    ranking = ranked(diagnosis)
    parts: list[RenderableType] = [Text(diagnosis.danger, "bold"), Text("")] if diagnosis.danger else []
    caution = search_caution(diagnosis.searched)
    parts += [Text(caution, "bold"), Text("")] if caution else []
    parts += [Text(summary(ranking.diagnosis, layout)), Text("")]
    parts.extend(_at_length(one, layout) for one in ranking.shared)
    parts.extend(_headed(NO_FAULT, map(_sentence, ranking.glow)))
    parts.extend(_headed("Single cells", map(_sentence, ranking.private)))
    parts.extend(_headed("Also possible", map(_sentence, ranking.others)))
    if len(ranking.sets) > 1:
        together = ((percent(one.probability), " + ".join(one.suspects) or NOTHING_SHARED) for one in ranking.sets)
        parts.extend(_headed("Taken together", (_hanging(*line) for line in together)))
    parts.extend(_headed("Bench checks that would decide", _checks(ranking.diagnosis.checks)))
    parts.extend(_headed("Next in test mode", map(_next, diagnosis.next)))
    return Group(*parts)


def check_words(check: BenchCheck) -> str:
    """Return a bench check in a few sentences: what to do, between which points, power on or off, and the outcomes."""
    points = " and ".join(filter(None, check.points))
    between = f"Between {points}. " if points else ""
    power = "Power ON" if check.power else "Power off"
    outcomes = " ".join(f"{name}: {_stopped(says)}" for name, says in outcomes_of(check))
    return f"{_stopped(check.do)} {between}{power}. {outcomes}"


def _stopped(text: str) -> str:
    return f"{text.rstrip('.')}."


def _headed(title: str, lines: Iterable[RenderableType]) -> Sequence[RenderableType]:
    found = list(lines)
    return [Text(title, "bold"), *found] if found else []


def _at_length(suspect: Suspect, layout: Layout) -> RenderableType:
    named = {"explains:": suspect.explains, "against it:": suspect.contradicts, "untested:": suspect.untested}
    cells = [_hanging("", f"{word} {cells_words(keys, layout, CELLS_NAMED)}") for word, keys in named.items() if keys]
    return Group(_sentence(suspect), *cells)


def _sentence(suspect: Suspect) -> RenderableType:
    return _hanging(percent(suspect.probability), f"{suspect.says} [{suspect.id}]")


def _checks(checks: Iterable[BenchCheck]) -> Iterator[RenderableType]:
    """Return checks in their order; a caution stands once, before the checks in a row that it is for."""
    for caution, alike in groupby(checks, key=lambda check: check.caution):
        if caution:
            yield _hanging("", f"Caution: {_stopped(caution)}")
        yield from (_hanging(check.suspect, check_words(check)) for check in alike)


def _next(test: NextTest) -> RenderableType:
    return _hanging(f"{test.gain:.2f} bit" if test.gain else "coverage", test.says)


def _hanging(head: str, says: str) -> Table:
    table = Table(box=None, show_header=False, padding=(0, 1, 0, 0), pad_edge=False)
    table.add_column(width=10, justify="right", no_wrap=True)
    table.add_column(ratio=1)
    table.add_row(Text(head, "bold"), Text(says))
    return table
