"""`python -m tests.bench sensitivity`: what becomes of the answers when a tuned constant is halved, or doubled.

The same drawn cases each time: single matrices with faults of every class and wrong marks, or marks alone for the exact
solver. `lost`, `won`: cases that are no longer, or newly, right at the top. `moved`: cases whose best explanation is
another, or moves by more than 0.01. Work is counted in the units that bound searches, against that with the constant as
it is.
"""

from __future__ import annotations

import argparse
import ast
import inspect
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType
from typing import Any, NamedTuple

from msgspec import convert

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.readings import read_readings
from tests.bench.cases import KINDS, draw_case
from tests.bench.marks import draw_marked, groups_of, right_groups
from tests.bench.score import score
from tests.bench.tally import table
from tests.spice.simulate import written

HOME = "matrixcheck.diagnosis"
WITHIN = 0.01
FACTORS = (0.5, 2.0)
MIXED = {
    "diagnose": "WEIGHING SEARCH EXPLAINING",
    "inference.regions": "HOPELESS_COUPLING",
    "inference.held_lines": "LEAST_WORKING LEAST_DARK",
    "inference.unknown_breaks": "LEAST",
    "inference.candidate_weighing": "MOST_FIRST QUICKER MOST_CHANGES HOPELESS MOST_LIKELY",
    "inference.likelihood": "RULED_OUT",
    "inference.beam.search": "BEAM_WIDTH ADDITIONS LARGEST_SET MOST_EXHAUSTIVE NEAR MOST_ALIKE FULL_RANKS FEW_ADDITIONS"
    " POOR_NET POOR_FACTOR LARGER_KEPT LOSS_SHARE WIDE_RANKS MANY_ADDITIONS PERFECT_FIT PAIRED MOST_DEFERRED_SCORED"
    " NEGLIGIBLE_SHARE EXPLICIT_GAIN HOPELESS",
    "inference.beam.hidden": "MOST NEAR",
    "inference.beam.interactions": "LEAST_PRIVATE_GAIN MOST_EXPLICIT MOST_ONLY_JOINT",
    "explanation.explanations": "NEGLIGIBLE MOST_COMPLETED MOST_GROUPED IMPROBABLE LEAST_GAIN MOST_PRIVATE",
    "explanation.alternatives": "MOST_ALTERNATIVES LEAST_SHARED",
    "explanation.ambiguity_groups": "IDLE SCREENED",
}
"""Where readings of any kind are weighed: the constants of each module."""
MARKS = {
    "inference.exact.solution": "NOTHING FOR_NAMING FEW_SETS",
    "inference.exact.partition": "FEW HOPELESS SLACK ROUNDS LEAST_PART STEPS",
    "inference.exact.best_first": "FEW USUAL_AFTER COARSE_AFTER MOST_SETS LIKELY MOST_GOOD AS_GOOD",
    "inference.exact.enumerate": "FEW_SETS MOST_SETS MOST_NUMBERS",
    "inference.exact.explore": "FOR_ENUMERATION FEWEST DEPTH",
    "inference.exact.ways": "NEGLIGIBLE MOST_SUBSETS MOST_WAYS FIRST_SETS",
    "inference.exact.subset_sums": "FEWEST SHARED DOUBTED ADDED",
    "inference.exact.screening": "LEAST FEW SOME MOST PASSES WORTHWHILE MOST_ADDED MOST_PROMISING MANY HIDDEN",
    "inference.exact.multipliers": "STEPS NEAR",
    "inference.exact.fault_sets": "NEAR AT_LEAST",
}
"""Where marks alone are weighed. Left out everywhere are sizes of stores and costs of steps, which are measured and
change no answer by themselves, and physical values, which `forward` is compared for with a circuit simulator."""


class Outcome(NamedTuple):
    """What one case came to: whether it is right at the top, what is named best, and how probable that is."""

    right: bool
    best: tuple[str, ...]
    probability: float


Case = Callable[[], Outcome]


def mixed_cases(count: int, seed: int) -> list[Case]:
    """Draw single matrices with one to three faults of every class, and 1 % wrong marks."""
    return [_mixed(f"sensitivity {seed} {i}", KINDS[i % 3], 1 + i % 3) for i in range(count)]


def _mixed(seed: str, kind: str, faults: int) -> Case:
    case = draw_case(seed, kind, faults, wrong=0.01)
    layout = parse_layout(case.layout, seed)
    readings = read_readings(written(case.readings), layout, seed)
    findings = [convert(each, Finding) for each in case.findings]

    def ask() -> Outcome:
        answer = to_json(diagnose(layout, readings, findings))
        result = score(case.injected(), bool(case.known), answer, case.misjudged)
        return Outcome(result.top, _named(answer), result.probability)

    return ask


def marks_cases(count: int, seed: int) -> list[Case]:
    """Draw marks alone of 8x8 and 12x12, with none to three shared faults; of one in three no chain is known."""
    return [_marked(f"sensitivity {seed} {i}", 12 if i % 8 == 7 else 8, i % 3 < 2, i % 4) for i in range(count)]


def _marked(seed: str, size: int, known: bool, shared: int) -> Case:
    machine = draw_marked(seed, size, known, shared)

    def ask() -> Outcome:
        answer = to_json(diagnose(machine.layout, machine.readings))
        best = answer["explanations"][0]
        named = groups_of(answer, best["suspects"], machine.marks)
        return Outcome(right_groups(machine.truth, named), _named(answer), best["probability"])

    return ask


def _named(answer: dict[str, Any]) -> tuple[str, ...]:
    members = {suspect["id"]: str(suspect["members"][0]) for suspect in answer["suspects"]}
    return tuple(sorted(members[name] for name in answer["explanations"][0]["suspects"]))


@contextmanager
def changed(home: ModuleType, name: str, value: Any) -> Iterator[None]:
    """Let a constant have another value, in its module and wherever it is imported by name."""
    before = getattr(home, name)
    users = [home, *(module for module in _modules() if module is not home and _imports(module, home, name))]
    for module in users:
        setattr(module, name, value)
    try:
        yield
    finally:
        for module in users:
            setattr(module, name, before)


def _modules() -> list[ModuleType]:
    return [module for name, module in sys.modules.items() if name.startswith(HOME)]


def _imports(module: ModuleType, home: ModuleType, name: str) -> bool:
    if not hasattr(module, name):
        return False
    found = ast.walk(ast.parse(inspect.getsource(module)))
    return any(
        isinstance(node, ast.ImportFrom)
        and node.module == home.__name__
        and any((alias.asname or alias.name) == name for alias in node.names)
        for node in found
    )


@contextmanager
def counted() -> Iterator[list[float]]:
    """Count the units of work that are spent meanwhile, in all."""
    spent, spend = [0.0], Work.spend

    def count(work: Work, units: float) -> None:
        spent[0] += units
        spend(work, units)

    Work.spend = count  # type: ignore[method-assign]
    try:
        yield spent
    finally:
        Work.spend = spend  # type: ignore[method-assign]


def scaled(value: float, factor: float) -> float:
    """Return a constant times a factor; a count stays a whole number, and at least 1."""
    return max(1, round(value * factor)) if isinstance(value, int) else value * factor


def _measured(cases: Sequence[Case]) -> tuple[list[Outcome], float]:
    with counted() as spent:
        return [ask() for ask in cases], spent[0]


def rows_of(constants: dict[str, str], cases: Sequence[Case]) -> list[tuple[str, ...]]:
    """Measure each constant, halved and doubled, against the cases with it as it is."""
    found = []
    usual, work = _measured(cases)
    for place, names in constants.items():
        home = import_module(f"{HOME}.{place}")
        for name in names.split():
            value = getattr(home, name)
            row = [f"`{place}.{name}`", f"{value:g}"]
            for factor in FACTORS:
                with changed(home, name, scaled(value, factor)):
                    others, spent = _measured(cases)
                pairs = list(zip(usual, others, strict=True))
                lost, won = (sum(a.right > b.right for a, b in pairs), sum(a.right < b.right for a, b in pairs))
                moved = sum(a.best != b.best or abs(a.probability - b.probability) > WITHIN for a, b in pairs)
                row += [str(lost), str(won), str(moved), f"{spent / work:.2f}"]
            found.append(tuple(row))
            print(*found[-1], file=sys.stderr, flush=True)
    return found


def main(argv: list[str]) -> int:
    """Print both tables."""
    parser = argparse.ArgumentParser("python -m tests.bench sensitivity", description=__doc__)
    parser.add_argument("--count", type=int, default=60, help="cases of either sort")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="constants of modules whose names contain this")
    options = parser.parse_args(argv)
    head = (
        "",
        "value",
        *(f"{word}: {what}" for word in ("half", "twice") for what in ("lost", "won", "moved", "work")),
    )
    for title, constants, draw in (
        ("Faults of every class, 1 % wrong marks", MIXED, mixed_cases),
        ("Marks alone", MARKS, marks_cases),
    ):
        wanted = {place: names for place, names in constants.items() if (options.only or "") in place}
        if wanted:
            rows = rows_of(wanted, draw(options.count, options.seed))
            table(f"{title}, {options.count} cases", rows, head)
    return 0
