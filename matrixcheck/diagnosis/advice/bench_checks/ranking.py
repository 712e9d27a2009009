"""Rank bench checks: measurements and swaps away from test mode that split an ambiguity group.

Each check would confirm some members of a suspect. Checks are ordered by probability over effort, which finds the
fault with the least expected effort where the last suspect is checked too (Johnson 1956, Mitten 1960; attribution from
memory); among equals those with the power off come first.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files

from matrixcheck.diagnosis.advice.bench_checks.cells import cell_steps
from matrixcheck.diagnosis.advice.bench_checks.codes import code_of
from matrixcheck.diagnosis.advice.bench_checks.lines import line_steps
from matrixcheck.diagnosis.advice.bench_checks.parts import part_steps
from matrixcheck.diagnosis.advice.bench_checks.steps import Step
from matrixcheck.diagnosis.explanation.member_weights import Shares, spread
from matrixcheck.diagnosis.result import BenchCheck, Fault, Suspect
from matrixcheck.layout.model import Layout


def bench_checks(
    layout: Layout,
    suspects: Sequence[Suspect],
    shares: Shares | None = None,
    limit: int = 24,
) -> tuple[BenchCheck, ...]:
    """Return up to `limit` checks on the suspects, in the order of least expected effort to find the fault.

    `shares[id]` weighs a suspect's members against each other; they weigh the same where it is not given. A suspect of
    one member gets what would confirm it. A check of several suspects stands once, with the likeliest.
    """
    found: list[BenchCheck] = []
    for suspect in suspects:
        chance = {
            fault: suspect.probability * share
            for fault, share in zip(suspect.members, spread(suspect, shares or {}), strict=True)
        }
        found.extend(_check(layout, suspect, step, chance) for step in _steps(layout, suspect.members))
    order = order_by_yield(
        [check.probability for check in found], [check.cost for check in found], [check.power for check in found]
    )
    first_of: dict[tuple[object, ...], BenchCheck] = {}
    for check in (found[place] for place in order):
        first_of.setdefault((check.do, check.points, check.expect), check)
    return tuple(first_of.values())[:limit]


def order_by_yield(
    probabilities: Sequence[float], minutes: Sequence[float], power: Sequence[bool] = ()
) -> tuple[int, ...]:
    """Return indices of the checks by falling probability over effort; among equals power off first."""
    needs_power = power or [False] * len(minutes)
    rank = [
        (-round(chance / effort, 9), live)
        for chance, effort, live in zip(probabilities, minutes, needs_power, strict=True)
    ]
    return tuple(sorted(range(len(rank)), key=rank.__getitem__))


def _steps(layout: Layout, members: Sequence[Fault]) -> list[Step]:
    """Return every check on the members but those that would confirm all of several, which split nothing."""
    steps = [*part_steps(layout, members), *line_steps(layout, members), *cell_steps(layout, members)]
    alone = len(members) == 1
    return [step for step in steps if alone or len(step.confirms) < len(members)] or steps


def _check(layout: Layout, suspect: Suspect, step: Step, chance: Mapping[Fault, float]) -> BenchCheck:
    first = step.confirms[0]
    places = [first.part] if first.part else [*first.lines[:2], *(() if first.lines else first.cells[:1])]
    return BenchCheck(
        suspect=suspect.id,
        suspects=(suspect.id,),
        code=code_of(layout, step.effort.replace(" ", "-"), *places),
        check=step.effort,
        short=f"{step.effort[:1].upper()}{step.effort[1:]}: {step.points[0]}.",
        do=step.do,
        points=step.points,
        power=step.power,
        good=step.good,
        faulty=step.expect,
        expect=step.expect,
        caution=step.caution,
        splits=step.confirms,
        probability=min(1.0, sum(chance[fault] for fault in step.confirms)),
        cost=_minutes()[step.effort],
    )


@cache
def _minutes() -> dict[str, float]:
    data = tomllib.loads(files("matrixcheck.diagnosis.advice.bench_checks").joinpath("checks.toml").read_text("utf-8"))
    return {name: float(minutes) for name, minutes in data["minutes"].items()}
