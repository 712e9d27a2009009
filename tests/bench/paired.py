"""`python -m tests.bench paired`: this tree against an earlier commit, and the shipped rates against others.

Each answers the same drawn machines, so that a difference is not one of luck in drawing. Of each pair the table counts
the machines that only one of the two has right at the top; p is the exact sign test's of these: the chance of a split
at least as uneven if both were as good.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tarfile
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from scipy.stats import binomtest

from tests.bench.cases import KINDS, Case, draw_case
from tests.bench.machine_draw import Machine, draw_machine
from tests.bench.mixed import of_the_contract
from tests.bench.score import Score, score
from tests.bench.tally import table
from tests.spice.simulate import written

HERE = Path(__file__).parent
TREE = HERE.parent.parent
EARLIER = "f3a386c"
"""The commit that answers are held against: the last of the diagnosis's first build."""
OTHER_RATES = HERE / "ungraded_rates.toml"
SHIPPED = None
Drawn = tuple[str, Case | Machine]


class Side(NamedTuple):
    """Name one way to answer: whether by this tree, not the earlier one; and a file of rates, None for the shipped."""

    here: bool
    rates: Path | None

    @property
    def title(self) -> str:
        """Return its words in a table."""
        return f"{'this tree' if self.here else 'the commit'}, {'other' if self.rates else 'shipped'} rates"


def main(argv: list[str]) -> int:
    """Print for each seed how often each is right, and how each pair splits."""
    parser = argparse.ArgumentParser("python -m tests.bench paired", description=__doc__)
    parser.add_argument("--seed", action="append", help="may be given several times; 41 and 1 if not")
    parser.add_argument("--count", type=int, default=500, help="single matrices, drawn as the contract's")
    parser.add_argument("--machines", type=int, default=0, help="whole machines for each count of faults")
    parser.add_argument("--commit", default=EARLIER, help="the earlier commit")
    parser.add_argument("--rates", type=Path, default=OTHER_RATES, help="a file of rates in place of the shipped")
    options = parser.parse_args(argv)
    sides = [Side(here, rates) for here in (True, False) for rates in (SHIPPED, options.rates)]
    with tree_of(options.commit) as earlier, ThreadPoolExecutor(os.cpu_count()) as asking:
        for seed in options.seed or ("41", "1"):
            cases = list(drawn(seed, options.count, options.machines))
            lines = "".join(json.dumps(_as_line(name, case)) + "\n" for name, case in cases)
            asked = [asking.submit(answered, lines, TREE if one.here else earlier, one.rates) for one in sides]
            found = [_scores(cases, each.result()) for each in asked]
            print_tables(f"Seed {seed}, commit {options.commit}", dict(zip(sides, found, strict=True)))
    return 0


@contextmanager
def tree_of(commit: str) -> Iterator[Path]:
    """Give a folder with the program as it was at a commit."""
    packed = subprocess.run(
        ["git", "archive", commit, "matrixcheck", "layouts"], cwd=TREE, capture_output=True, check=True
    )
    with TemporaryDirectory() as name, tarfile.open(fileobj=BytesIO(packed.stdout)) as files:
        files.extractall(name, filter="data")
        yield Path(name)


def drawn(seed: str, count: int, machines: int) -> Iterator[Drawn]:
    """Draw single matrices as the contract's, and so many whole machines for each of one to four faults."""
    for faults, number in of_the_contract(count):
        for i in range(number):
            name = f"contract {seed} {faults} {i}"
            yield name, draw_case(name, KINDS[i % 3], faults)
    for faults in (1, 2, 3, 4):
        for i in range(machines):
            name = f"{seed} {faults} {i}"
            yield name, draw_machine(name, faults)


def _as_line(name: str, case: Case | Machine) -> Mapping[str, Any]:
    findings = case.findings if isinstance(case, Case) else []
    return {"name": name, "layout": case.layout, "readings": written(case.readings), "findings": findings}


def answered(lines: str, tree: Path, rates: Path | None) -> list[dict[str, Any]]:
    """Ask the program of a tree about cases, each a line of JSON; return its answers."""
    command = [sys.executable, "-P", str(HERE / "answers.py"), *([str(rates)] if rates else [])]
    environment = {**os.environ, "PYTHONPATH": str(tree)}
    told = subprocess.run(command, input=lines, cwd=tree, env=environment, capture_output=True, text=True, check=True)
    return [json.loads(line) for line in told.stdout.splitlines()]


def _scores(cases: Sequence[Drawn], answers: Sequence[dict[str, Any]]) -> list[Score]:
    return [
        score(case.injected(), bool(case.known) if isinstance(case, Case) else True, answer, case.misjudged)
        for (_, case), answer in zip(cases, answers, strict=True)
    ]


def print_tables(title: str, found: Mapping[Side, Sequence[Score]]) -> None:
    """Print how often each side is right, and the pairs of trees and of rates."""
    rows = [(side.title, str(len(each)), *_shares(each)) for side, each in found.items()]
    table(title, rows, ("", "machines", "top %", "top 3 %"))
    pairs = [(a, b) for a in found for b in found if _differ_in_one(a, b)]
    rows = [(a.title, b.title, *split(_tops(found[a]), _tops(found[b]))) for a, b in pairs]
    head = ("first", "second", "both right", "only first", "only second", "none", "p")
    table("The same machines in pairs", rows, head)


def _shares(scores: Sequence[Score]) -> tuple[str, str]:
    """Return how often the best explanation is right, and one of the first three, in per cent."""
    top, three = sum(each.top for each in scores), sum(each.three for each in scores)
    return f"{100 * top / len(scores):.1f}", f"{100 * three / len(scores):.1f}"


def _differ_in_one(first: Side, second: Side) -> bool:
    """Return whether two sides make a pair: this tree and the earlier one, or the shipped rates and the others."""
    newer = first.here and not second.here and first.rates == second.rates
    return newer or (first.here and second.here and first.rates is SHIPPED and second.rates is not SHIPPED)


def _tops(scores: Sequence[Score]) -> list[bool]:
    return [each.top for each in scores]


def split(first: Sequence[bool], second: Sequence[bool]) -> tuple[str, str, str, str, str]:
    """Count what both, only one and none of two have right; and give the exact sign test's p of the ones."""
    pairs = list(zip(first, second, strict=True))
    both, none = pairs.count((True, True)), pairs.count((False, False))
    one, other = pairs.count((True, False)), pairs.count((False, True))
    p = binomtest(one, one + other).pvalue if one + other else 1.0
    return str(both), str(one), str(other), str(none), f"{p:.2f}"
