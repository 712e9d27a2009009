"""The README's tour does what it says when it is typed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow
LEFT_OUT = re.compile(r"activate$|matrixcheck open ")  # the environment is the test's own; screens want a terminal


def tour() -> list[str]:
    """Every line of the tour's shell blocks that a script can run, in their order."""
    section = (CHECKOUT / "README.md").read_text().partition("## Five minutes")[2].partition("### What you type")[0]
    lines = [line for block in re.findall(r"```sh\n(.*?)```", section, re.DOTALL) for line in block.splitlines()]
    return [line for line in lines if not LEFT_OUT.search(line.partition("#")[0].rstrip())]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("tour")


@pytest.fixture(scope="module")
def typed(folder: Path) -> subprocess.CompletedProcess[str]:
    """The tour run once as one script, in a folder that holds the layouts as a clone does."""
    command = folder / "bin" / "matrixcheck"
    command.parent.mkdir()
    start = "import sys; from matrixcheck.cli.main import main; sys.exit(main())"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{start}" "$@"\n')
    command.chmod(0o755)
    (folder / "layouts").symlink_to(CHECKOUT / "layouts")
    paths = {"PATH": f"{command.parent}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": str(CHECKOUT)}
    script = "set -euo pipefail\n" + "\n".join(tour())
    return subprocess.run(
        ["bash", "-c", script],
        cwd=folder,
        env={**os.environ, **paths, "COLUMNS": "100"},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_tour_runs_without_a_complaint(typed: subprocess.CompletedProcess[str], folder: Path) -> None:
    assert (typed.returncode, typed.stderr) == (0, "")
    assert (folder / "tour.book").is_file()
    assert "<html" in (folder / "sheet.html").read_text()


def test_the_tour_shows_what_it_promises(typed: subprocess.CompletedProcess[str]) -> None:
    said = " ".join(typed.stdout.split())
    assert "Switch column 3 is open" in said
    assert "Switch column 4 wire is broken after switch" in said
    assert "untested" in said
