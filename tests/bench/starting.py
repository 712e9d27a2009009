"""What it costs to start: `--version` against bare Python, `--help` against the smallest program made with typer."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path

from tests.bench.installed import environment

BARE_PYTHON = "pass"
OWN = "import sys; from matrixcheck.cli.main import main; sys.exit(main([{!r}]))"
BARE_TYPER = """
import typer

app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)

@app.command()
def greet(name: str) -> None:
    print(name)

app(["--help"])
"""


def seconds(program: str, around: Mapping[str, str]) -> float:
    """How long a program takes from its start to its end."""
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", program], check=True, stdout=subprocess.DEVNULL, env=around)
    return time.perf_counter() - began


def compared(bytecode: Path, own: str, other: str, rounds: int) -> tuple[float, float]:
    """The medians in seconds of a command line of our own and of another program, started turn about. The first start
    of each doesn't count: it may have to compile its modules, into the folder `bytecode`."""
    around = environment(bytecode)
    pairs = [(seconds(OWN.format(own), around), seconds(other, around)) for _ in range(1 + rounds)]
    ours, others = zip(*pairs[1:], strict=True)
    return statistics.median(ours), statistics.median(others)


def report(bytecode: Path, rounds: int) -> bool:
    """Measure and print; whether a figure is missed."""
    missed = False
    for own, name, other, most in (
        ("--version", "bare Python", BARE_PYTHON, 2.0),
        ("--help", "a bare typer program", BARE_TYPER, 1.3),
    ):
        ours, others = compared(bytecode, own, other, rounds)
        ratio = ours / others
        print(f"{own:12} {ours * 1000:.0f} ms, {name} {others * 1000:.0f} ms: {ratio:.2f} times (at most {most:g})")
        missed |= ratio > most
    return missed
