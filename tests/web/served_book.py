"""A bench book served by the real command, for tests that come to it as a browser or a stranger would."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path
from urllib.parse import urlsplit

DEADLINE = 30.0
LAN = ("--lan", "--address", "127.0.0.1", "--port", "0")


class Server:
    """`matrixcheck serve`, run as its user would run it."""

    def __init__(self, book: Path, *options: str) -> None:
        self._complaints = book.with_suffix(".stderr")
        environment = {name: value for name, value in os.environ.items() if name != "NO_COLOR"}
        with self._complaints.open("a") as stderr:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "matrixcheck.cli.main", "serve", "--book", str(book), *options],
                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=stderr, text=True, env=environment,
            )  # fmt: skip
        self.said = ""
        self._first_given = False
        too_late = threading.Timer(DEADLINE, self.process.kill)
        too_late.start()
        while "Ctrl+C" not in self.said:
            line = self.process.stdout.readline()
            assert line, f"the server ended before it said where it is: {self.said}"
            self.said += line
        too_late.cancel()
        self.address = next(word for word in self.said.split() if word.startswith("http"))
        self.root = urlsplit(self.address)._replace(path="", query="").geturl()

    def way_in(self) -> str:
        """The way in for one more device: the first address, then the one that is shown once that was used."""
        if not self._first_given:
            self._first_given = True
            return self.address
        self.said += (line := self.process.stdout.readline())
        assert "The next one: " in line, line
        return line.split()[-1]

    @property
    def port(self) -> int:
        return urlsplit(self.address).port

    def programs(self) -> list[int]:
        """The processes behind its pages."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        return sorted(int(word) for word in children.read_text().split())

    def complaints(self) -> list[str]:
        """The lines that it wrote to stderr so far."""
        return self._complaints.read_text().splitlines()

    def end(self) -> None:
        """End it, if it hasn't ended, and keep what else it said."""
        if self.process.stdout.closed:
            return
        self.process.terminate()
        self.process.wait(DEADLINE)
        with self.process.stdout as stdout:
            self.said += stdout.read()
        sys.stderr.writelines(f"{line}\n" for line in self.complaints())
