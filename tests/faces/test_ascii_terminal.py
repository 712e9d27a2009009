"""The screens on a terminal that knows ASCII alone."""

from __future__ import annotations

import re
import time

from pilots import CannedBench
from terminals import PATIENCE, Terminal

IN_ASCII = """
import os, sys
os.environ["PYTHONIOENCODING"] = "ascii"
words = ["-m", "matrixcheck.cli.main", "--book", sys.argv[1], "open", sys.argv[2]]
os.execv(sys.executable, [sys.executable, *words])
"""


def test_a_letter_stands_for_each_mark(bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "21 22-")
    bench.close()
    terminal = Terminal(bench.path, job, IN_ASCII)
    try:
        deadline = time.monotonic() + PATIENCE
        while b"number and Enter" not in terminal.written and time.monotonic() < deadline:
            terminal.read_for(0.05)
        shown = re.sub(rb"\x1b\[[^A-Za-z]*[A-Za-z]", b"", terminal.written).decode("ascii")
        for letter, number in (("u", 11), ("w", 21), ("d", 22)):
            assert re.search(rf"{number} *{letter}", shown), shown
        assert "?" not in shown.replace("? keys", "")
        terminal.type("q")
    finally:
        code = terminal.close()
    assert code == 0
