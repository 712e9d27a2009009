"""`python -m tests.bench sensitivity`: what becomes of the answers when a tuned constant is halved, or doubled.

The same drawn cases each time: single matrices with faults of every class and wrong marks, or marks alone for the exact
solver. `cases`: those in which code runs that names the constant; in others it can't matter. `lost`, `won`: cases that
are no longer, or newly, right at the top. `moved`: cases whose best explanation is another, or moves by more than 0.01.
Work is counted in the units that bound searches, against that with the constant as it is.

Every constant of the diagnosis that is one number is measured, but for those that `UNTUNED` lists with the reason.
"""

from __future__ import annotations

import argparse
import ast
import inspect
import itertools
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from types import CodeType, FrameType, ModuleType
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
MOST_WORK = 8e6
"""Units of work of the costliest case that is taken: each is asked some hundred times."""
UNTUNED = {
    "sizes of stores, batches and files, which change no answer by themselves": {
        "diagnose": "MOST_KEPT_CHANGES",
        "machine.matrix_frame": "MOST_SOLVED_BYTES BATCH_PLACES",
        "machine.fault_notation": "LONGEST",
        "machine.rates_file": "LARGEST_FILE",
        "evidence.observations": "MOST_PLACES MOST_LAID_OUT",
        "forward.switch_sneak_paths": "MOST_AT_ONCE",
        "forward.sneaks_ahead": "FEWEST MOST_PLACES",
        "inference.problem": "MOST_BYTES",
        "inference.beam.tables": "MOST_BYTES",
        "explanation.alternatives": "MOST_BYTES",
        "explanation.ambiguity_groups": "MOST_REMEMBERED",
        "advice.predictor": "MOST_OUTCOMES",
    },
    "costs of steps, which are measured": {
        "inference.work": "PER_EVALUATION PER_SET",
        "inference.exact.partition": "PER_STEP",
        "inference.exact.best_first": "PER_VISIT PER_ENTRY PER_ADDED",
        "inference.exact.unknown_chains": "PER_CELL PER_NUMBER",
        "inference.exact.enumerate": "PER_FAULT PER_NUMBER",
        "inference.exact.ways": "PER_LINE PER_CELL",
        "inference.exact.subset_sums": "PER_SUM PER_CELL",
    },
    "physical values, for which the forward model is compared with a circuit simulator": {
        "machine.matrix_frame": "FULL_SENSE_VOLTS",
        "machine.keep_warm": "VISIBLE_AMPERES",
        "forward.coil_resistance": "COPPER_PER_KELVIN REFERENCE_CELSIUS USUAL_TOLERANCE OPEN_RATIO SHORT_RATIO"
        " SUPPLY_OHMS LEADS_OHMS LEAST_KELVIN COLDEST_CELSIUS HOTTEST_CELSIUS",
        "forward.switch_sneak_paths": "DROPS_AT_5_VOLTS DROPS_ABOVE",
        "forward.bank_sneak_paths": "DIODE_DROP LED_DROP ROUNDING LEAK STEPS SMALL_STEP LAMP_OHMS FLASH_AMPERES"
        " COIL_AMPERES LED_AMPERES FLASH_LED_AMPERES",
        "advice.bench_checks.steps": "ZERO_OHMS OPEN_OHMS",
        "advice.bench_checks.values": "_OPEN_VOLTS",
    },
    "codes, rounding and what a number can hold": {
        "diagnose": "SAME",
        "evidence.noise": "NEVER",
        "forward.bank_sneak_paths": "FLOATING",
        "inference.beam.score_bounds": "LOST",
        "inference.beam.explored": "DIGITS TIED",
        "inference.exact.cell_states": "CODES",
        "inference.exact.cell_likelihood": "LARGEST _SORTS",
        "inference.exact.bounds": "LARGEST",
        "inference.exact.enumerate": "BITS",
        "inference.exact.subset_sums": "SAME",
        "explanation.alternatives": "NOT_CHANGED",
        "explanation.combine": "DIGITS",
    },
    "what is said and advised, not what is found: `isolation` measures the choice of tests": {
        "explanation.explanations": "MOST_EXPLANATIONS",
        "words.sentences": "WORTH_SAYING LARGE_GAP",
        "advice.coverage": "MOST_COVERING",
        "advice.advise": "LIKELY LARGEST_PLANNED",
        "advice.next_tests": "MOST_WEIGHED MOST_EXERCISED LEAST_SHARE LEAST_WAY LEAST_GAIN",
        "advice.lookahead": "LOOKED_AT",
        "advice.bench_checks.work_order": "MOST_STATES",
        "machine.learned_rates": "WEIGHT",
    },
}
"""The constants that are not tuned for answers, by the reason."""
EXACT = "inference.exact."
"""Where marks alone are weighed; all other modules weigh readings of any kind."""


def constants() -> dict[str, tuple[str, ...]]:
    """Find the constants of the diagnosis that are one number each, by module."""
    home = Path(inspect.getfile(import_module(HOME))).parent
    found = {}
    for file in sorted(home.rglob("*.py")):
        names = tuple(_numbers(ast.parse(file.read_text("utf-8"))))
        if names:
            found[".".join(file.relative_to(home).with_suffix("").parts)] = names
    return found


def _numbers(tree: ast.Module) -> Iterator[str]:
    for node in tree.body:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            (target,) = node.targets if isinstance(node, ast.Assign) else (node.target,)
            pairs = [(target, node.value)]
            if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                pairs = list(zip(target.elts, node.value.elts, strict=True))
            for name, value in pairs:
                if isinstance(name, ast.Name) and name.id.lstrip("_").isupper() and _is_number(value):
                    yield name.id


def _is_number(value: ast.expr) -> bool:
    if isinstance(value, ast.BinOp):
        return _is_number(value.left) and _is_number(value.right)
    if isinstance(value, ast.UnaryOp):
        return _is_number(value.operand)
    return isinstance(value, ast.Constant) and type(value.value) in (int, float)


def untuned() -> set[tuple[str, str]]:
    """Return module and name of each constant that is not tuned."""
    return {(place, name) for each in UNTUNED.values() for place, names in each.items() for name in names.split()}


def tuned(exact: bool) -> dict[str, tuple[str, ...]]:
    """Return the tuned constants by module: those of the exact solver, or all others."""
    left_out = untuned()
    kept = {
        place: tuple(name for name in names if (place, name) not in left_out)
        for place, names in constants().items()
        if place.startswith(EXACT) == exact
    }
    return {place: names for place, names in kept.items() if names}


class Outcome(NamedTuple):
    """What one case came to: whether it is right at the top, what is named best, and how probable that is."""

    right: bool
    best: tuple[str, ...]
    probability: float


Case = Callable[[], Outcome]


def mixed_cases(count: int, seed: int) -> list[Case]:
    """Draw single matrices with one to three faults of every class, and 1 % wrong marks."""
    return _cheap((_mixed(f"sensitivity {seed} {i}", KINDS[i % 3], 1 + i // 3 % 3) for i in itertools.count()), count)


def _cheap(drawn: Iterable[Case], count: int) -> list[Case]:
    """Return the first so many cases that take no more than `MOST_WORK`."""
    return list(itertools.islice((case for case in drawn if _measured([case])[1] <= MOST_WORK), count))


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
    drawn = (_marked(f"sensitivity {seed} {i}", 12 if i % 8 == 7 else 8, i % 3 < 2, i % 4) for i in itertools.count())
    return _cheap(drawn, count)


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
    before, users = getattr(home, name), _users(home, name)
    for module in users:
        setattr(module, name, value)
    try:
        yield
    finally:
        for module in users:
            setattr(module, name, before)


def _users(home: ModuleType, name: str) -> list[ModuleType]:
    """Return the modules in which the constant has its name: its own, and those that import it."""
    return [home, *(module for module in _modules() if module is not home and _imports(module, home, name))]


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


@contextmanager
def read() -> Iterator[set[tuple[str, str]]]:
    """Collect file and name of whatever is named by the code that runs meanwhile."""
    found: set[tuple[str, str]] = set()
    codes: set[CodeType] = set()

    def note(frame: FrameType, event: str, _: object) -> None:
        if event == "call" and frame.f_code not in codes:
            codes.add(frame.f_code)
            found.update((frame.f_code.co_filename, name) for name in frame.f_code.co_names)

    sys.setprofile(note)
    try:
        yield found
    finally:
        sys.setprofile(None)


def scaled(value: float, factor: float) -> float:
    """Return a constant times a factor; a count stays a whole number, and at least 1."""
    return max(1, round(value * factor)) if isinstance(value, int) else value * factor


def _measured(cases: Sequence[Case]) -> tuple[list[Outcome], float]:
    with counted() as spent:
        return [ask() for ask in cases], spent[0]


def rows_of(constants: Mapping[str, Sequence[str]], cases: Sequence[Case]) -> list[tuple[str, ...]]:
    """Measure each constant, halved and doubled, against the cases with it as it is.

    Only cases in which code runs that names it are asked again: in others it can't matter.
    """
    found = []
    usual, work, named = [], [], []
    for case in cases:
        (outcome,), units = _measured([case])
        usual.append(outcome)
        work.append(units)
        with read() as names:
            case()
        named.append(names)
    for place, names in constants.items():
        home = import_module(f"{HOME}.{place}")
        for name in names:
            value = getattr(home, name)
            files = [(str(module.__file__), name) for module in _users(home, name)]
            asked = [at for at, its in enumerate(named) if not its.isdisjoint(files)]
            row = [f"`{place}.{name}`", f"{value:g}", str(len(asked))]
            for factor in FACTORS:
                with changed(home, name, scaled(value, factor)):
                    others, spent = _measured([cases[at] for at in asked])
                pairs = [(usual[at], other) for at, other in zip(asked, others, strict=True)]
                lost, won = (sum(a.right > b.right for a, b in pairs), sum(a.right < b.right for a, b in pairs))
                moved = sum(a.best != b.best or abs(a.probability - b.probability) > WITHIN for a, b in pairs)
                before = sum(work[at] for at in asked)
                row += [str(lost), str(won), str(moved), f"{spent / before:.2f}" if before else "1.00"]
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
        "cases",
        *(f"{word}: {what}" for word in ("half", "twice") for what in ("lost", "won", "moved", "work")),
    )
    for title, exact, draw in (
        ("Faults of every class, 1 % wrong marks", False, mixed_cases),
        ("Marks alone", True, marks_cases),
    ):
        wanted = {place: names for place, names in tuned(exact).items() if (options.only or "") in place}
        if wanted:
            rows = rows_of(wanted, draw(options.count, options.seed))
            table(f"{title}, {options.count} cases", rows, head)
    return 0
