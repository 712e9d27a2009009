"""Choose bench checks on suspects: measurements and swaps away from test mode that split an ambiguity group.

Each check would confirm some members of a suspect, or follows on one that does. A check of several suspects stands
once. The best by probability over effort are chosen, and put into the order of the work (`work_order`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from matrixcheck.diagnosis.advice.bench_checks.cautions import caution_of
from matrixcheck.diagnosis.advice.bench_checks.codes import code_of
from matrixcheck.diagnosis.advice.bench_checks.proposals import steps_for
from matrixcheck.diagnosis.advice.bench_checks.steps import Step
from matrixcheck.diagnosis.advice.bench_checks.work_order import check_minutes, in_work_order, most_found
from matrixcheck.diagnosis.explanation.member_weights import Shares, spread
from matrixcheck.diagnosis.result import BenchCheck, Fault, Suspect
from matrixcheck.layout.model import Layout

Splits = dict[tuple[Fault, ...], Mapping[str, Step]]
"""By the members of a suspect: the checks that split them, by code."""
MOST_SPLIT = 256
"""Suspects whose checks are remembered: those of some ten answers, each with a few texts."""


@dataclass
class _Proposed:
    """Hold a step with the chance of each suspect, and of each fault, that it would confirm."""

    step: Step
    suspects: dict[str, float] = field(default_factory=dict)
    faults: dict[Fault, float] = field(default_factory=dict)


def bench_checks(
    layout: Layout,
    suspects: Sequence[Suspect],
    shares: Shares | None = None,
    limit: int = 32,
    known: Splits | None = None,
) -> tuple[BenchCheck, ...]:
    """Return up to `limit` checks on the suspects, those that find most for their effort, in the order of the work.

    `shares[id]` weighs a suspect's members against each other; they weigh the same where it is not given. A suspect of
    one member gets what would confirm it. `known`: what split suspects of earlier answers of the same layout.
    """
    found: dict[str, _Proposed] = {}
    splits: Splits = {} if known is None else known
    if len(splits) > MOST_SPLIT:
        splits.clear()
    for suspect in sorted(suspects, key=lambda each: -each.probability):
        chance = {
            fault: suspect.probability * share
            for fault, share in zip(suspect.members, spread(suspect, shares or {}), strict=True)
        }
        if suspect.members not in splits:
            splits[suspect.members] = splitting(layout, suspect.members)
        for code, step in splits[suspect.members].items():
            proposed = found.setdefault(code, _Proposed(step))
            its = sum(chance[fault] for fault in step.confirms)
            proposed.suspects[suspect.id] = proposed.suspects.get(suspect.id, 0.0) + its
            for fault in step.confirms:
                proposed.faults[fault] = max(proposed.faults.get(fault, 0.0), chance[fault])
    return in_work_order(most_found([_check(code, proposed) for code, proposed in found.items()])[:limit])


def splitting(layout: Layout, members: Sequence[Fault]) -> Mapping[str, Step]:
    """Return by code every check on the members but those that would confirm all of several, which split nothing."""
    found = merged(layout, steps_for(layout, members))
    alone = len(members) == 1
    wanted = {code: step for code, step in found.items() if alone or step.decides or len(step.confirms) < len(members)}
    return wanted if any(step.confirms for step in wanted.values()) else found


def merged(layout: Layout, steps: Iterable[Step]) -> dict[str, Step]:
    """Return steps by code, those of one code as one that confirms what any of them does."""
    found: dict[str, Step] = {}
    for step in steps:
        code = code_of(layout, step.test, *step.at)
        known = found.get(code)
        both = dict.fromkeys((*known.confirms, *step.confirms)) if known else step.confirms
        found[code] = (known or step)._replace(confirms=tuple(both))
    return found


def check_of(code: str, step: Step) -> BenchCheck:
    """Return a step as the check that a diagnosis gives, of no suspect yet."""
    return _check(code, _Proposed(step, {}, dict.fromkeys(step.confirms, 0.0)))


def _check(code: str, proposed: _Proposed) -> BenchCheck:
    step, chances = proposed.step, proposed.suspects
    suspects = sorted(chances, key=lambda name: -round(chances[name], 12))
    return BenchCheck(
        suspect=suspects[0] if suspects else "",
        suspects=tuple(suspects),
        code=code,
        check=step.kind,
        short=step.short,
        prepare=step.prepare,
        do=f"{step.prepare} {step.do}".strip(),
        points=step.points,
        power=step.power,
        setup=step.setup,
        plugs=step.plugs,
        good=step.good,
        faulty=step.faulty,
        between=step.between,
        then=step.then,
        expect=step.good if step.harmless else step.faulty,
        limits=step.limits,
        hazard=step.hazard,
        caution=" ".join(caution_of(step.hazard, power=step.power, setup=step.setup)),
        splits=tuple(proposed.faults),
        chances=tuple(proposed.faults.values()),
        probability=min(1.0, sum(proposed.faults.values())),
        cost=check_minutes()[step.kind],
    )
