"""One line on a terminal while something takes its time: erased before the answer, and nothing anywhere else."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from threading import Timer

import pytest

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.cli.progress import LOOKING, PATIENCE, progress
from tests.machines import shipped_layout


class Terminal(io.StringIO):
    """A stream that passes for a terminal; `seen` is what stands on its line."""

    def isatty(self) -> bool:
        """Always."""
        return True

    @property
    def seen(self) -> str:
        """The line as the cursor's returns leave it."""
        shown: list[str] = []
        for part in self.getvalue().split("\r"):
            shown[: len(part)] = part
        return "".join(shown).rstrip()


class Hand:
    """A timer that goes off when a test says so, cancelled or not: a thread can be late."""

    daemon = False

    def __init__(self, seconds: float, call: Callable[[], None]) -> None:
        self.seconds, self.call = seconds, call
        self.started = self.cancelled = False

    def start(self) -> None:
        """Begin to wait."""
        self.started = True

    def cancel(self) -> None:
        """Wait no longer."""
        self.cancelled = True


@pytest.fixture
def hands() -> list[Hand]:
    """The timers that were made."""
    return []


@pytest.fixture
def timer(hands: list[Hand]) -> Callable[[float, Callable[[], None]], Hand]:
    """Make one."""

    def made(seconds: float, call: Callable[[], None]) -> Hand:
        hands.append(Hand(seconds, call))
        return hands[-1]

    return made


Made = Callable[[float, Callable[[], None]], Hand]


def test_a_line_is_shown_after_half_a_second_and_erased_before_the_answer(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()
    with progress(LOOKING, out, timer):
        assert (hands[0].seconds, hands[0].started, hands[0].daemon) == (PATIENCE, True, True) == (0.5, True, True)
        assert out.getvalue() == ""
        hands[0].call()
        assert out.seen == LOOKING
    assert out.seen == ""
    assert out.getvalue().endswith("\r")


def test_a_quick_answer_shows_nothing_even_where_the_timer_is_late(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()
    with progress(LOOKING, out, timer):
        pass
    assert hands[0].cancelled
    hands[0].call()
    assert out.getvalue() == ""


def test_the_line_is_erased_before_an_error_is_said(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()

    def interrupted() -> None:
        with progress(LOOKING, out, timer):
            hands[0].call()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert out.seen == ""
    assert LOOKING in out.getvalue()


def test_nothing_is_shown_in_a_pipe(timer: Made, hands: list[Hand]) -> None:
    out = io.StringIO()
    with progress(LOOKING, out, timer):
        pass
    assert (hands, out.getvalue()) == ([], "")


def test_a_terminal_that_went_away_does_not_end_the_analysis(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()
    with progress(LOOKING, out, timer):
        out.close()
        hands[0].call()


def test_the_line_fits_a_narrow_terminal() -> None:
    assert len(LOOKING) < 60


def test_the_line_names_what_is_done_and_is_erased_whole(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()
    with progress("copying the book, page after page …", out, timer):
        hands[0].call()
        assert out.seen == "copying the book, page after page …"
    assert out.seen == ""


@pytest.mark.parametrize(
    "words",
    [
        "book verify", "book backup HERE/copy.book", "job export JOB HERE/job.jsonl", "job import HERE/job.jsonl",
        "rates", "mark JOB --readings HERE/readings.jsonl", "predict switch-8x8 --fault grounded:switches.r3",
        "layout import HERE/chart.csv --out HERE/made.toml --yes", "report JOB --to HERE/report.md", "suspects JOB",
        pytest.param("demo visit --out HERE/demo", marks=pytest.mark.slow),
    ],
)  # fmt: skip
def test_what_can_take_long_shows_a_line_on_a_terminal_and_none_elsewhere(
    words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(shipped_layout("switch-8x8"), "One")
    bench.mark(job, "switches", "11 12-")
    (tmp_path / "job.jsonl").write_text(bench.exported(job))
    bench.close()
    (tmp_path / "readings.jsonl").write_text('{"matrix": "switches", "cell": 13, "mark": "dead"}\n')
    (tmp_path / "chart.csv").write_text(",1,2\n1,left lane,pond 1\n2,right lane,pond 2\n")
    typed = [job if word == "JOB" else word.replace("HERE", str(tmp_path)) for word in words.split()]
    assert main(typed) == 0
    assert capsys.readouterr().err == ""
    if words.startswith(("book backup", "layout import")):
        Path(typed[2] if typed[0] == "book" else typed[4]).unlink()
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    # Whatever is waited for takes long: the line comes at once. `progress` holds the class itself, not its name.
    monkeypatch.setattr(Timer, "start", lambda timer: timer.function())
    assert main(typed) == 0
    assert "…" in terminal.getvalue()
    assert terminal.seen == ""
