"""`python -m tests.bench diagnosis`: how often the diagnosis is right, how sure it may be of itself, how long it takes.

Beside it in the same process: a row and column majority, an Ochiai ranking, and OR-tools CP-SAT listing the ten best
sets of the same dead/working model. Everything is seeded. Prints tables in markdown. With `--beside` the tables of
mixed faults are made in a second process meanwhile, which wants a second core.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import io
import statistics
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from matrixcheck.diagnosis.inference.exact.model import machine_of
from tests.bench import mixed, others
from tests.bench.marks import Marked, draw_marked, groups_of, model_of, right, right_groups, seconds_of_search
from tests.bench.tally import HEAD, Tally, asked, table, timed

SIZES = (8, 16, 32, 64)


def main(argv: list[str]) -> int:
    """Prints the tables."""
    parser = argparse.ArgumentParser("python -m tests.bench diagnosis")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--marked", type=int, default=2000, help="machines by the rates, marks alone, 8x8")
    parser.add_argument("--exact", type=int, default=300, help="how many of those CP-SAT is asked about as well")
    parser.add_argument("--shared", type=int, default=300, help="such machines for each of one to three shared faults")
    parser.add_argument("--contract", type=int, default=500, help="machines like the contract's, no wrong marks")
    parser.add_argument("--rates", type=Path, action="append", default=[], help="a file: ask by its rates too")
    parser.add_argument("--faulty", type=int, default=300, help="machines for each of one, two and three faults")
    parser.add_argument("--healthy", type=int, default=300, help="machines without any fault, in each table")
    parser.add_argument("--sized", type=int, default=40, help="machines for each size from 8 to 64")
    parser.add_argument("--rated", type=int, default=400, help="machines with each fault at its shipped rate")
    parser.add_argument("--three", type=int, default=100, help="machines with three faults, for each way to draw them")
    parser.add_argument("--unusual", type=int, default=40, help="machines for each less usual bank and way to tell")
    parser.add_argument("--ranked", type=int, default=40, help="how many mixed ones Ochiai ranks as well")
    parser.add_argument("--beside", action="store_true", help="the tables of mixed faults in a process of their own")
    options = parser.parse_args(argv)
    print(f"`python -m tests.bench diagnosis {' '.join(argv)}`", flush=True)
    if not options.beside:
        _marks(options)
        _mixed(options)
        return 0
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as second:
        rest = second.submit(_printed, options)
        _marks(options)
        print(rest.result(), end="")
    return 0


def _marks(options: argparse.Namespace) -> None:
    _marked(options.seed, options.marked, options.exact)
    _shared(options.seed, options.shared, options.exact // 3)
    _sized(options.seed, options.sized)


def _mixed(options: argparse.Namespace) -> None:
    healthy = options.healthy if options.contract else 0
    mixed.like_the_contract(options.seed, options.contract, healthy, options.rates)
    mixed.by_count(options.seed, options.faulty, options.healthy if options.faulty else 0, options.ranked)
    mixed.by_rates(options.seed, options.rated)
    mixed.three_faults(options.seed, options.three)
    mixed.less_usual(options.seed, options.unusual)


def _printed(options: argparse.Namespace) -> str:
    with contextlib.redirect_stdout(io.StringIO()) as out:
        _mixed(options)
    return out.getvalue()


class _Beside:
    """The diagnosis of marked machines with the three others beside it."""

    def __init__(self) -> None:
        self.ours = {known: Tally(f"matrixcheck, chains {'known' if known else 'hidden'}") for known in (True, False)}
        self.same, self.solver = Tally("matrixcheck, the same as CP-SAT"), Tally("CP-SAT, ten best sets")
        self.alone = Tally("  its search alone, the same")
        self.rule, self.ranking = Tally("row and column majority"), Tally("Ochiai, greedy")

    def ask(self, machine: Marked, known: bool, exact: int) -> None:
        """Puts one machine to all of them, CP-SAT while it has had fewer than `exact`."""
        hits, seconds, sure = _hits(machine)[:3]
        self.ours[known].add(hits[0], any(hits), seconds, sure)
        model = model_of(machine)
        for tally, ask in (
            (self.rule, lambda: others.majority_marks(machine)),
            (self.ranking, lambda: others.ochiai_marks(machine, model)),
        ):
            covers, taken = timed(ask)
            hit = right(machine.truth, covers)
            tally.add(hit, hit, taken)
        if known and len(self.solver.top) < exact:
            self.same.add(hits[0], any(hits), seconds, sure)
            self.alone.add(hits[0], any(hits), seconds_of_search(machine))
            best, taken = timed(lambda: others.ten_best(model))
            solved = [right(machine.truth, covers) for covers in best[:3]]
            self.solver.add(solved[0], any(solved), taken)

    def rows(self) -> list[tuple[str, ...]]:
        """The lines of a table."""
        tallies = (*self.ours.values(), self.same, self.alone, self.solver, self.rule, self.ranking)
        return [tally.row() for tally in tallies if tally.top]

    @property
    def ratio(self) -> float:
        """Median seconds of CP-SAT over those of the search for sets, on the same machines."""
        return statistics.median(self.solver.seconds) / statistics.median(self.alone.seconds)


def _hits(machine: Marked) -> tuple[list[bool], float, float, dict[str, Any]]:
    """Whether each of the first three explanations is right; the seconds; how sure the best is; the whole answer."""
    machine_of(machine.layout)  # once a job
    gc.freeze()  # the layouts of other machines: a program has one, and none of these to look through for garbage
    answer, seconds = asked(machine.layout, machine.readings)
    gc.unfreeze()
    ranked = answer["explanations"][:3]
    told = [groups_of(answer, each["suspects"], machine.marks) for each in ranked] or [[]]
    sure = ranked[0]["probability"] if ranked else 1.0
    return [right_groups(machine.truth, groups) for groups in told], seconds, sure, answer


def _marked(seed: int, count: int, exact: int) -> None:
    beside = _Beside()
    for i in range(count):
        known = i % 4 != 3
        beside.ask(draw_marked(f"marked {seed} {i}", known=known), known, exact)
    if count:
        title = "8x8, faults by the shipped rates, dead and working marks alone, 1 % wrong, 0 to 30 % untested"
        table(title, beside.rows())
        if beside.solver.top:
            ratio = f"{beside.ratio:.0f}"
            print(
                f"\nTime of CP-SAT over that of matrixcheck's search, medians on the same machines: {ratio}.",
                flush=True,
            )


def _shared(seed: int, count: int, exact: int) -> None:
    rows = []
    for faults in (1, 2, 3) if count else ():
        beside = _Beside()
        for i in range(count):
            known = i % 4 != 3
            beside.ask(draw_marked(f"shared {seed} {faults} {i}", known=known, shared=faults), known, exact)
        rows += [(str(faults), *row) for row in beside.rows()]
    if rows:
        table("The same with one, two and three shared faults", rows, ("faults", *HEAD))


def _sized(seed: int, count: int) -> None:
    rows = []
    for size in SIZES if count else ():
        tally, alone = Tally(f"{size}x{size}"), Tally("  its search alone")
        late = 0
        for i in range(count):
            machine = draw_marked(f"sized {seed} {size} {i}", size)
            hits, seconds, sure, answer = _hits(machine)
            alone.add(hits[0], any(hits), seconds_of_search(machine))
            late += not answer["searched"]["exact"]
            tally.add(hits[0], any(hits), seconds, sure)
        rows += [(*tally.row(), f"{late}"), (*alone.row(), "")]
    if rows:
        table("By size, marks alone", rows, (*HEAD, "cut off"))
