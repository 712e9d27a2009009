"""Every way out of the screens gives the terminal back and leaves a book whose file alone holds the whole evening."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from pilots import NOON, CannedBench
from terminals import PATIENCE, PROGRAM, Terminal

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.web.place import Place
from matrixcheck.web.screens import DRIVER, command_for

BREAKS = PROGRAM.replace(
    "sys.exit",
    "from matrixcheck.tui.screens.job import JobScreen\nJobScreen.action_note = lambda self: 1 / 0\nsys.exit",
)
DELETE = b"\x1b[3~"

COUNTS_STARTS = PROGRAM.replace(
    "sys.exit",
    """
from textual.drivers.linux_driver import LinuxDriver
start = LinuxDriver.start_application_mode
def counted(driver):
    with Path(sys.argv[1]).with_suffix(".starts").open("a") as starts:
        starts.write("start\\n")
    start(driver)
LinuxDriver.start_application_mode = counted
sys.exit""",
)


def events_of_a_copy(book: Path) -> int:
    """How many events a copy of the book's file alone holds; the copy is proven."""
    copy = Path(shutil.copy(book, book.with_name("copy.book")))
    return Bench(copy, clock=lambda: NOON).verify()


@pytest.fixture
def open_screens(bench: CannedBench, job: str) -> Iterator[Callable[..., Terminal]]:
    """Start the screens on the job."""
    bench.close()
    running: list[Terminal] = []

    def start(program: str = PROGRAM) -> Terminal:
        running.append(Terminal(bench.path, job, program))
        running[-1].wait_for("number and Enter")
        return running[-1]

    yield start
    for terminal in running:
        terminal.kill()


def type_a_few_marks(terminal: Terminal) -> None:
    terminal.type("24-\r")
    terminal.wait_for("kept: 24")
    terminal.type("31\r")
    terminal.wait_for("kept: 31")


def test_quitting_after_a_roll_leaves_all_of_it_in_the_file(
    open_screens: Callable[..., Terminal], bench: CannedBench
) -> None:
    terminal = open_screens()
    terminal.type("g")
    terminal.wait_for("Before you start")
    terminal.type("1")
    terminal.wait_for("left to test")
    type_a_few_marks(terminal)
    terminal.type("\x1b")
    terminal.wait_for(" suspects")
    terminal.type("q")
    assert terminal.close() == 0
    assert events_of_a_copy(bench.path) == 1 + 1 + 2 + 1


@pytest.mark.parametrize(
    "asked_by",
    [signal.SIGTERM, *(pytest.param(each, marks=pytest.mark.slow) for each in (signal.SIGHUP, signal.SIGINT))],
)
def test_a_signal_ends_the_screens_as_quitting_does(
    open_screens: Callable[..., Terminal], bench: CannedBench, asked_by: signal.Signals
) -> None:
    terminal = open_screens()
    type_a_few_marks(terminal)
    other = Bench(bench.path, clock=lambda: NOON)
    other.note(bench.jobs()[0].id, "of a program that has the book open as well")
    terminal.process.send_signal(asked_by)
    assert terminal.close() == 128 + asked_by
    assert events_of_a_copy(bench.path) == 1 + 2 + 1
    other.close()


@pytest.mark.parametrize("asked_by", [signal.SIGTERM, pytest.param(signal.SIGINT, marks=pytest.mark.slow)])
def test_a_signal_leaves_the_terminal_as_it_was(
    open_screens: Callable[..., Terminal], asked_by: signal.Signals
) -> None:
    terminal = open_screens()
    wrecked = terminal.modes
    terminal.process.send_signal(asked_by)
    terminal.ended()
    for given_back in (b"\x1b[?1049l", b"\x1b[?25h", b"\x1b[?1003l", b"\x1b[?2004l"):
        assert given_back in terminal.written
    assert b"Traceback" not in terminal.written
    assert terminal.modes != wrecked


@pytest.mark.slow
def test_a_terminal_that_goes_away_ends_the_screens_with_everything_kept(
    open_screens: Callable[..., Terminal], bench: CannedBench
) -> None:
    terminal = open_screens()
    type_a_few_marks(terminal)
    terminal.hang_up()
    terminal.process.wait(PATIENCE)
    assert events_of_a_copy(bench.path) == 1 + 2


@pytest.mark.slow
def test_a_terminal_that_goes_away_without_a_signal_ends_the_screens_too(
    open_screens: Callable[..., Terminal], bench: CannedBench
) -> None:
    terminal = open_screens(PROGRAM.replace("fcntl.ioctl(0, termios.TIOCSCTTY, 0)", ""))
    type_a_few_marks(terminal)
    terminal.hang_up()
    assert terminal.process.wait(PATIENCE) == 128 + signal.SIGHUP
    assert events_of_a_copy(bench.path) == 1 + 2


@pytest.mark.slow
def test_a_signal_to_go_on_starts_nothing_twice(open_screens: Callable[..., Terminal], bench: CannedBench) -> None:
    """The system sends it to a program whose terminal has gone as well."""
    terminal = open_screens(COUNTS_STARTS)
    terminal.process.send_signal(signal.SIGCONT)
    type_a_few_marks(terminal)
    terminal.type("q")
    assert terminal.close() == 0
    assert bench.path.with_suffix(".starts").read_text() == "start\n"


def test_an_exception_leaves_all_of_it_in_the_file(open_screens: Callable[..., Terminal], bench: CannedBench) -> None:
    terminal = open_screens(BREAKS)
    type_a_few_marks(terminal)
    terminal.type("w")
    assert terminal.close() != 0
    assert events_of_a_copy(bench.path) == 1 + 2


@pytest.mark.slow
def test_bytes_that_are_no_utf_8_are_replaced_and_what_stands_beside_them_is_typed(
    open_screens: Callable[..., Terminal],
) -> None:
    terminal = open_screens()
    terminal.paste(b"24\xff-\x80\xc3\r")
    terminal.wait_for("1 refused: 24\ufffd")
    terminal.paste(DELETE)
    terminal.type("24-\r")
    terminal.wait_for("kept: 24")
    terminal.type("q")
    assert terminal.close() == 0


LEAVE: dict[str, Callable[[subprocess.Popen[bytes]], object]] = {
    "the server goes": lambda page: page.stdin and page.stdin.close(),
    "the page quits": lambda page: page.stdin and page.stdin.write(packet(b"M", b'{"type": "quit"}')),
    "SIGTERM": lambda page: page.send_signal(signal.SIGTERM),
    "SIGHUP": lambda page: page.send_signal(signal.SIGHUP),
}


def packet(kind: bytes, content: bytes) -> bytes:
    return kind + len(content).to_bytes(4, "big") + content


@pytest.mark.parametrize(
    "leave",
    [
        pytest.param(leave, id=how, marks=() if how == "the server goes" else pytest.mark.slow)
        for how, leave in LEAVE.items()
    ],
)
@pytest.mark.slow
def test_the_end_of_a_served_page_leaves_all_of_it_in_the_file(
    bench: CannedBench, job: str, leave: Callable[[subprocess.Popen[bytes]], object]
) -> None:
    bench.close()
    with subprocess.Popen(
        command_for(bench.path, own_layouts=False, layouts=None, place=Place(job), key="a-page"),
        bufsize=0,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"TEXTUAL_DRIVER": DRIVER, "COLUMNS": "100", "ROWS": "32"},
    ) as page:
        assert page.stdin is not None
        assert page.stdout is not None
        page.stdin.write(packet(b"D", b"24-\r"))
        shown = b""
        while b"kept: 24" not in shown:
            more = page.stdout.read(4096)
            assert more, f"the screens ended: {shown[-2000:]!r}"
            shown += more
        leave(page)
        page.wait(PATIENCE)
    assert events_of_a_copy(bench.path) == 1 + 1


def test_a_command_leaves_all_of_it_in_the_file_also_where_the_screens_are_open(
    open_screens: Callable[..., Terminal], bench: CannedBench, job: str
) -> None:
    terminal = open_screens()
    type_a_few_marks(terminal)
    assert main(["--book", str(bench.path), "mark", job, "switches", "33"]) == 0
    assert main(["--book", str(bench.path), "mark", job, "switches", "no entry"]) == 3
    assert events_of_a_copy(bench.path) == 1 + 2 + 1


@pytest.mark.parametrize("lacking", ["stdin", pytest.param("stderr", marks=pytest.mark.slow)])
def test_without_a_terminal_the_screens_say_so_and_end(bench: CannedBench, lacking: str) -> None:
    bench.close()
    master, other = os.openpty()
    streams = {"stdin": other, "stdout": subprocess.PIPE, "stderr": other} | {lacking: subprocess.DEVNULL}
    command = [sys.executable, "-m", "matrixcheck.cli.main", "--book", str(bench.path), "open"]
    ended = subprocess.run(command, timeout=PATIENCE, check=False, **streams)
    os.close(other)
    os.close(master)
    assert ended.returncode == 2
