"""`python -m tests.bench figures`: make FIGURES.md anew.

Each section is one measurement of this folder with a count of its own, which options change: `--machines 40`, or
`--share 0.1` for a tenth of all. `--only NAME` makes some sections anew and keeps the others as they stand; each names
the commit that it was measured at. `--out FILE` writes elsewhere.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import subprocess
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from pathlib import Path
from typing import NamedTuple

FILE = Path(__file__).parent / "FIGURES.md"
INTRODUCTION = """# Figures

Made by `python -m tests.bench figures`; every section can be made by its own command too. Everything is seeded. Times
of analyses are seconds of the processor.

ECE: expected calibration error of the best explanation's probability, over ten bins. As good: the circuit simulator
gives the very same readings for the set named, which is no larger than the faults that show. Alike: the same readings,
whatever its size. There no reading can tell the two apart, and the rates of faults decide.

Faults drawn evenly by class are not as common as the rates say: two crossed lines are drawn some fifteen times as
often, and where their lamps were only marked dead, two open lines are the likelier cause. So the tables with faults by
the shipped rates say how far the answer's probability can be relied on; the difference to those drawn evenly by class,
at the same number of faults, is what the rates explain: "Three faults, evenly by class and by the shipped rates" sets
the two side by side. Wrong marks are drawn at 1 % in lists as well, where the program takes 0.4 % of them for wrong.

Cases like the contract's are asked about by three sets of rates: the shipped ones, those that were shipped before
(`ungraded_rates.toml`), and some by which faults are about as common as they are drawn (`evenly_drawn_rates.toml`). No
rates are likely to do much better there than the last: most of what is missed then shows the very same readings.
"""


class Section(NamedTuple):
    """One measurement: its name, its title, how many machines (or runs) it takes, and its command line for a count."""

    name: str
    title: str
    count: int
    command: Callable[[int], Sequence[str]]


def _only(**counts: int) -> list[str]:
    """The `diagnosis` command with these counts and no others."""
    every = (
        "marked",
        "exact",
        "shared",
        "contract",
        "faulty",
        "healthy",
        "sized",
        "rated",
        "three",
        "unusual",
        "ranked",
    )
    return ["diagnosis", *(word for name in every for word in (f"--{name}", str(counts.get(name, 0))))]


def _part(count: int, of: int) -> int:
    return -(-count // of)


SECTIONS = (
    Section(
        "contract",
        "Cases like the contract's",
        2000,
        lambda n: [
            *_only(contract=n, healthy=_part(n, 4)),
            *("--seed", "97", "--rates", "tests/bench/ungraded_rates.toml"),
            *("--rates", "tests/bench/evenly_drawn_rates.toml"),
        ],
    ),
    Section(
        "paired",
        "The same machines: this tree and an earlier one, these rates and others",
        500,
        lambda n: ["paired", "--seed", "41", "--seed", "1", "--count", str(n)],
    ),
    Section("faulty", "Every class of fault, with wrong marks", 150, lambda n: _only(faulty=n, ranked=_part(n, 8))),
    Section("rated", "Faults by the shipped rates", 400, lambda n: _only(rated=n)),
    Section("three", "Three faults, evenly by class and by the shipped rates", 250, lambda n: _only(three=n)),
    Section("unusual", "Less usual banks", 40, lambda n: _only(unusual=n)),
    Section("machines", "Whole machines", 100, lambda n: ["machines", "--count", str(n), "--healthy", str(n)]),
    Section(
        "rated-machines",
        "Whole machines, faults by the shipped rates",
        100,
        lambda n: ["machines", "--count", str(n), "--healthy", "0", "--rated"],
    ),
    Section(
        "wrong", "Whole machines with wrong marks", 50, lambda n: ["machines", "--count", str(n), "--wrong", "0.01"]
    ),
    Section("marked", "Marks alone", 2000, lambda n: _only(marked=n, exact=_part(n, 10), shared=_part(n, 8))),
    Section("sized", "Marks alone, by size", 40, lambda n: _only(sized=n)),
    Section("load", "The same answer under any load", 100, lambda n: ["load", "--count", str(n)]),
    Section("evening", "The invented machine's evening", 5, lambda n: ["evening", "--marks", str(n)]),
    Section("large", "Large matrices", 3, lambda n: ["large", "--count", str(n)]),
    Section("forward", "The forward model", 5, lambda n: ["forward", "--runs", str(n)]),
    Section("sensitivity", "What the tuned constants do", 60, lambda n: ["sensitivity", "--count", str(n)]),
    Section("isolation", "Tests until isolation", 100, lambda n: ["isolation", "--count", str(n)]),
    Section("testability", "Testability of the invented machine", 1, lambda _: ["testability"]),
    Section("expected", "Faults to expect on the invented machine", 1, lambda _: ["expected"]),
    Section("circle", "Every single fault of the invented machine", 6, lambda n: ["circle", "--each", str(n)]),
)


def main(argv: list[str]) -> int:
    """Measure and write the file."""
    parser = argparse.ArgumentParser("python -m tests.bench figures", description=__doc__)
    names = [section.name for section in SECTIONS]
    parser.add_argument("--only", action="append", choices=names, help="this section; may be given several times")
    parser.add_argument("--share", type=float, default=1.0, help="of every count, at least 1")
    parser.add_argument("--out", type=Path, default=FILE)
    for section in SECTIONS:
        parser.add_argument(
            f"--{section.name}", type=int, help=f"{section.title}: how many, {section.count} if not said"
        )
    options = parser.parse_args(argv)
    found = read_sections(options.out.read_text("utf-8")) if options.only and options.out.exists() else {}
    for section in SECTIONS:
        if section.name in (options.only or names):
            count = getattr(options, section.name.replace("-", "_"))
            count = max(1, round(section.count * options.share)) if count is None else count
            found[section.title] = measured(section.command(count))
            options.out.write_text(page(found), "utf-8")
            print(f"{section.name}: done", flush=True)
    return 0


def measured(command: Sequence[str]) -> str:
    """The text of one section: where it was measured, its command line, and what that printed."""
    where = circumstances()
    with contextlib.redirect_stdout(io.StringIO()) as out:
        import_module(f"tests.bench.{command[0]}").main(list(command[1:]))
    told = [line for line in out.getvalue().strip().splitlines() if not line.startswith("`python -m tests.bench")]
    return f"{where}\n\n```sh\npython -m tests.bench {' '.join(command)}\n```\n\n" + "\n".join(told).strip() + "\n"


def circumstances() -> str:
    """Commit, cores and other work, as a sentence."""
    commit, changes = (
        subprocess.run(["git", *words], cwd=FILE.parent, capture_output=True, text=True, check=True).stdout.strip()
        for words in (("rev-parse", "--short", "HEAD"), ("status", "--porcelain", "--", ":/matrixcheck"))
    )
    cores = os.cpu_count() or 1
    load = os.getloadavg()[0]
    beside = f", other programs running beside (load {load:.0f})" if load > 1.5 else ""
    return f"Commit {commit}{' with changes' if changes else ''}, {cores} cores{beside}."


def read_sections(text: str) -> dict[str, str]:
    """The sections of a page, by title."""
    parts = text.split("\n## ")[1:]
    return {title: body.strip() + "\n" for title, _, body in (part.partition("\n") for part in parts)}


def page(found: Mapping[str, str]) -> str:
    """The page of these sections, in the order of the table above."""
    there = [section.title for section in SECTIONS if section.title in found]
    return INTRODUCTION + "".join(f"\n## {title}\n\n{found[title]}" for title in there)
