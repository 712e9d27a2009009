"""What a diagnosis is worth against the faults that were put in."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from tests.bench.cases import Case
from tests.bench.observer import content
from tests.bench.rated import MISPLACED, simulated

GLOW = "keep-warm-glow"


@dataclass(frozen=True)
class Score:
    """`top`: every visible injected fault is in the best explanation; `three`: in one of the first three.

    For a machine whose faults show nothing: the best explanation (one of the first three) is empty but for keep-warm
    glow. `missed` are the visible faults that the best explanation lacks, `extra` its suspects that hold no injected
    fault; `best` all of its suspects. A cell that was judged wrongly reads as one that is dead or stuck: naming it is
    neither, unless it is so.
    """

    top: bool
    three: bool
    missed: tuple[Mapping[str, Any], ...]
    extra: tuple[Mapping[str, Any], ...]
    probability: float
    best: tuple[Mapping[str, Any], ...] = ()

    @property
    def alarm(self) -> bool:
        """Whether the best explanation names something that was not put in."""
        return bool(self.extra)


class Worth(NamedTuple):
    """`as_good`: right at the top, or the best set gives the very same readings and names no more faults than show;
    `alike`: the same whatever its size."""

    as_good: bool
    alike: bool


Differing = Callable[[Sequence[Mapping[str, Any]]], int]
"""Counts the readings that would be others if the first members of these suspects were the faults."""


def worth_of(result: Score, shown: int, differing: Differing) -> Worth:
    """Judge the best explanation of a machine of which `shown` faults show. Only a miss costs a simulation."""
    alike = result.top or differing(result.best) == 0
    return Worth(result.top or (alike and len(result.best) <= shown), alike)


def score(
    injected: Sequence[Mapping[str, Any]],
    chains: bool,
    diagnosis: Mapping[str, Any],
    misjudged: Collection[str] = (),
) -> Score:
    """Scores a diagnosis (its JSON form) against the injected faults (as in `injected.json`). `misjudged`: the cells
    that were judged wrongly, as `m.r1c3`.

    Where the chains are known a break counts by its line and the count of cells before it, else by its line alone, and
    so does one that is put in without a count.
    """
    suspects = {suspect["id"]: suspect for suspect in diagnosis["suspects"]}
    ranked = [[suspects[name] for name in each["suspects"]] for each in diagnosis["explanations"]] or [[]]
    ranked = [
        [
            each
            for each in members
            if not _as_read(each, misjudged) or any(_holds(one, each, chains) for one in injected)
        ]
        for members in ranked
    ]
    seen = [fault for fault in injected if fault["visible"]]
    good = [_explains(seen, members, chains) for members in ranked[:3]]
    best = ranked[0]
    missed = tuple(fault for fault in seen if not any(_holds(fault, suspect, chains) for suspect in best))
    extra = tuple(
        suspect
        for suspect in best
        if not any(_holds(fault, suspect, chains) for fault in injected) and not _only_glow(suspect)
    )
    first = diagnosis["explanations"][0]["probability"] if diagnosis["explanations"] else 0.0
    return Score(good[0], any(good), missed, extra, first, tuple(best))


def _explains(seen: Sequence[Mapping[str, Any]], best: Sequence[Mapping[str, Any]], chains: bool) -> bool:
    if not seen:
        return all(_only_glow(suspect) for suspect in best)
    return all(any(_holds(fault, suspect, chains) for suspect in best) for fault in seen)


def _only_glow(suspect: Mapping[str, Any]) -> bool:
    return any(member["fault"] == GLOW for member in suspect["members"])


def _as_read(suspect: Mapping[str, Any], misjudged: Collection[str]) -> bool:
    """Whether it is a cell's own fault, of a cell that was judged wrongly."""
    first = suspect["members"][0]
    return not first["lines"] and set(first["cells"]) <= set(misjudged)


def _holds(fault: Mapping[str, Any], suspect: Mapping[str, Any], chains: bool) -> bool:
    return any(same(fault, member, chains) for member in suspect["members"])


def same(fault: Mapping[str, Any], member: Mapping[str, Any], chains: bool = True) -> bool:
    """Whether a member of a suspect is the injected fault: its class and its lines, part, cells, count or position."""
    misplaced = fault["fault"] in MISPLACED
    if fault["fault"] != member["fault"] or misplaced:
        return misplaced and all(fault.get(key) == member.get(key) for key in ("fault", "part", "with", "after"))
    lines = set(member["lines"]) | ({member["with"]} if member.get("with") else set())
    if fault.get("lines") and lines != set(fault["lines"]):
        return False
    if fault.get("part") and member.get("part") != fault["part"]:
        return False
    if fault.get("cells") and set(member["cells"]) != set(fault["cells"]):
        return False
    if fault.get("when") and member.get("when") != fault["when"]:
        return False
    return fault["fault"] != "break" or not chains or fault.get("after") in (None, member.get("after"))


def differing(case: Case, suspects: Sequence[Mapping[str, Any]]) -> int:
    """How many readings of a case would be others if the first members of these suspects were its faults, by the
    circuit simulator. None at all means that the readings cannot tell the two sets apart."""
    faults = tuple(simulated(suspect["members"][0], case.bank.shared) for suspect in suspects)
    found = case.observer.readings(case.bank, faults, case.board, case.plan)
    return sum(content(a) != content(b) for a, b in zip(found, case.readings, strict=True))
