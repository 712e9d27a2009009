"""One line on a terminal while an analysis takes its time: erased before the answer, and nothing anywhere else."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest

from matrixcheck.cli.progress import LOOKING, PATIENCE, progress


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
    with progress(out, timer):
        assert (hands[0].seconds, hands[0].started, hands[0].daemon) == (PATIENCE, True, True) == (0.5, True, True)
        assert out.getvalue() == ""
        hands[0].call()
        assert out.seen == LOOKING
    assert out.seen == ""
    assert out.getvalue().endswith("\r")


def test_a_quick_answer_shows_nothing_even_where_the_timer_is_late(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()
    with progress(out, timer):
        pass
    assert hands[0].cancelled
    hands[0].call()
    assert out.getvalue() == ""


def test_the_line_is_erased_before_an_error_is_said(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()

    def interrupted() -> None:
        with progress(out, timer):
            hands[0].call()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert out.seen == ""
    assert LOOKING in out.getvalue()


def test_nothing_is_shown_in_a_pipe(timer: Made, hands: list[Hand]) -> None:
    out = io.StringIO()
    with progress(out, timer):
        pass
    assert (hands, out.getvalue()) == ([], "")


def test_a_terminal_that_went_away_does_not_end_the_analysis(timer: Made, hands: list[Hand]) -> None:
    out = Terminal()
    with progress(out, timer):
        out.close()
        hands[0].call()


def test_the_line_fits_a_narrow_terminal() -> None:
    assert len(LOOKING) < 60
