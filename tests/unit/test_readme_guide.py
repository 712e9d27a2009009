"""The README's guide from the manual to the first tick, typed as it stands on a terminal; what it takes is counted.

Source of the times: the keystroke-level model of Card, Moran and Newell, 1980 (from memory): 0.28 s a key for an
average typist, 1.35 s to make ready for each unit of a task; here for each word between blanks and for each question.
"""

from __future__ import annotations

import os
import pty
import re
import select
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from matrixcheck.bench import Bench
from matrixcheck.layout.files import read_layout

CHECKOUT = Path(__file__).parents[2]
KEY_SECONDS, READY_SECONDS = 0.28, 1.35
PATIENCE_MS = 60_000


class Guide(NamedTuple):
    """What the README says: its text, and the commands of its one block."""

    text: str
    commands: list[str]


class Typed(NamedTuple):
    """What was typed on the terminal until the commands were through, and what stood there."""

    commands: int
    questions: int
    keys: int
    words: int
    code: int
    shown: str

    @property
    def seconds(self) -> float:
        """The time by the keystroke-level model."""
        return self.keys * KEY_SECONDS + (self.words + self.questions) * READY_SECONDS


@pytest.fixture(scope="module")
def guide() -> Guide:
    section = (CHECKOUT / "README.md").read_text().partition("### From the manual to the first tick")[2]
    text = section.partition("\n### ")[0]
    (block,) = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    return Guide(" ".join(text.split()), [line for line in block.splitlines() if line.strip()])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("guide")


@pytest.fixture(scope="module")
def typed(guide: Guide, folder: Path) -> Typed:
    """The guide typed on a terminal; Enter answers each question."""
    (folder / "demo").symlink_to(CHECKOUT / "demo")
    script = f'matrixcheck() {{ {sys.executable} -m matrixcheck.cli.main "$@"; }}\nset -eu\n' + "\n".join(
        guide.commands
    )
    given = {"MATRIXCHECK_BOOK": str(folder / "guide.book"), "PYTHONPATH": str(CHECKOUT), "TERM": "dumb"}
    near, far = pty.openpty()
    shell = subprocess.Popen(
        ["bash", "-c", script], cwd=folder, env=os.environ | given, stdin=far, stdout=far, stderr=far
    )
    os.close(far)
    shown, questions = "", 0
    waiting = select.poll()
    waiting.register(near, select.POLLIN)
    while waiting.poll(PATIENCE_MS):
        try:
            shown += os.read(near, 65536).decode(errors="replace")
        except OSError:  # the other end is closed: the shell is through
            break
        if shown.endswith(("]: ", "> ")):
            os.write(near, b"\n")
            questions += 1
            shown += "\n"
    os.close(near)
    keys = sum(len(line) + 1 for line in guide.commands) + questions
    words = sum(len(line.split()) for line in guide.commands)
    return Typed(len(guide.commands), questions, keys, words, shell.wait(), shown)


def test_the_guide_ends_with_the_first_switch_ticked(typed: Typed, folder: Path) -> None:
    assert typed.code == 0, typed.shown
    assert typed.shown.rstrip().splitlines()[-1].startswith("kept  switch 11")
    matrix = read_layout(folder / "peat-express.toml").matrices[0]
    assert matrix.size == (8, 8)
    bench = Bench(folder / "guide.book")
    (job,) = bench.jobs()
    assert bench.status(job.id)["switches"].working == 1
    bench.close()


def test_the_readme_gives_the_commands_keys_and_seconds_that_were_counted(typed: Typed, guide: Guide) -> None:
    said = re.search(
        r"Counted: (\d+) commands, (\d+) keys, (\d+) of them the Enter that has the layout written; (\d+) s", guide.text
    )
    assert said, guide.text
    assert [int(one) for one in said.groups()] == [typed.commands, typed.keys, typed.questions, round(typed.seconds)]


def test_it_stays_within_what_is_promised(typed: Typed) -> None:
    assert typed.commands == 2
    assert typed.seconds < 120
