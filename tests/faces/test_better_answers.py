"""The screens while the analyser goes on looking: each diagnosis as it comes, a better one in its place, and none that
an older mark asked for."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from pilots import AT_EACH_SIZE, NOON, CannedBench, Run, column_three

from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass, Searched
from matrixcheck.errors import AnalysisError
from matrixcheck.layout.places import LineKey
from matrixcheck.report.answer.model import STILL_LOOKING
from matrixcheck.tui.widgets.suspect_list import SuspectList
from tests.samples import some_of


def column_three_so_far() -> Diagnosis:
    """The same suspect, less sure: the search goes on."""
    found = column_three()
    first = found.suspects[0].model_copy(update={"probability": 0.55})
    best = found.explanations[0].model_copy(update={"probability": 0.55})
    searched = Searched(exact=False, seconds=0.1, gap=0.4, finished=False)
    return found.model_copy(
        update={"suspects": (first, *found.suspects[1:]), "explanations": (best,), "searched": searched}
    )


class SlowBench(CannedBench):
    """A bench whose second analysis, and each after it, gives an unfinished diagnosis and waits for `gate` before the
    finished one. `dropped` counts those that nobody waited for; `runs` all of them."""

    finished: Callable[[], Diagnosis] = staticmethod(column_three)

    def __init__(self, path: Path) -> None:
        super().__init__(path, clock=lambda: NOON)
        self.gate = threading.Event()
        self.runs = self.dropped = 0

    def refine(
        self, job: str, seconds: float | None = None, dropped: Callable[[], bool] | None = None
    ) -> Iterator[Diagnosis]:
        """The unfinished diagnosis, then the finished one."""
        del job, seconds
        self.runs += 1
        if self.runs == 1:
            yield column_three()
            return
        yield column_three_so_far()
        while not self.gate.wait(0.001):
            if dropped is not None and dropped():
                self.dropped += 1
                return
        yield self.finished()


@pytest.fixture
def slow(bench: CannedBench) -> Iterator[SlowBench]:
    """That bench, on the book with the job."""
    slow = SlowBench(bench.path)
    yield slow
    slow.gate.set()
    slow.close()


@AT_EACH_SIZE
async def test_an_unfinished_answer_is_shown_as_such_and_replaced_by_the_finished_one(
    run: Run, slow: SlowBench, size: tuple[int, int]
) -> None:
    async with run(size, on=slow) as machine:
        assert STILL_LOOKING not in machine.text()
        await machine.pilot.press("minus")
        await machine.until(lambda: STILL_LOOKING in machine.text())
        assert "55 %" in machine.text()
        assert "searched" not in machine.text()
        slow.gate.set()
        await machine.until(lambda: STILL_LOOKING not in machine.text())
        await machine.settle()
        assert "94 %" in machine.text()
        assert "55 %" not in machine.text()


async def test_a_new_mark_drops_the_search_that_is_under_way_and_starts_another(run: Run, slow: SlowBench) -> None:
    async with run(on=slow) as machine:
        await machine.pilot.press("minus")
        await machine.until(lambda: STILL_LOOKING in machine.text())
        await machine.pilot.press("down", "minus")
        await machine.until(lambda: slow.runs == 3)
        assert slow.dropped == 1
        slow.gate.set()
        await machine.settle()
        assert "94 %" in machine.text()
        assert (slow.runs, slow.dropped) == (3, 1)


async def test_an_answer_of_older_marks_that_comes_late_is_not_shown(
    run: Run, slow: SlowBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    late, held = threading.Event(), threading.Event()
    given = []

    def deaf(_self: SlowBench, _job: str, dropped: Callable[[], bool] | None = None) -> Iterator[Diagnosis]:
        """A search that hears too late that nobody waits for it."""
        del dropped
        given.append(1)
        if len(given) == 1:
            held.set()
            late.wait(5)
            yield column_three()
        else:
            yield column_three_so_far()
            slow.gate.wait(5)
            yield column_three_so_far().model_copy(update={"searched": Searched(exact=True, seconds=0.1)})

    async with run(on=slow) as machine:
        monkeypatch.setattr(SlowBench, "refine", deaf)
        await machine.pilot.press("minus")
        await machine.until(held.is_set)
        shown = []
        monkeypatch.setattr(
            "matrixcheck.tui.widgets.suspect_list.SuspectList.show_analysis",
            lambda _self, analysis: shown.append(analysis.suspects[0]),
        )
        await machine.pilot.press("down", "minus")
        await machine.until(lambda: "switches 2/60" in machine.text())
        late.set()
        await machine.until(lambda: len(given) == 2)
        slow.gate.set()
        await machine.settle()
        assert [one.probability for one in shown] == [0.55, 0.55]


async def test_a_chosen_suspect_stays_chosen_when_a_better_answer_comes(run: Run, slow: SlowBench) -> None:
    async with run(on=slow) as machine:
        await machine.pilot.press("minus")
        await machine.until(lambda: STILL_LOOKING in machine.text())
        lines = machine.text().split("\n")
        y = next(y for y, line in enumerate(lines) if "column 3 is open" in line)
        await machine.pilot.click(offset=(lines[y].index("column 3 is open"), y))
        await machine.until(lambda: "▸1 Switch column 3" in machine.text() and "55 %" in machine.text())
        slow.gate.set()
        await machine.until(lambda: STILL_LOOKING not in machine.text())
        await machine.settle()
        assert "▸1 Switch column 3" in machine.text()
        assert "94 %" in machine.text()


OF_Q3 = column_three().suspects[0].members[0]
PLUG_PIN = Fault(fault=FaultClass.OPEN, part="X1-3", lines=OF_Q3.lines, cells=OF_Q3.cells)
ANY_OTHER = Fault(fault=FaultClass.OPEN, part="X1-4", lines=(LineKey("switches", "column", 4),))


def grouped(*groups: tuple[Fault, ...]) -> Diagnosis:
    """The same answer, with suspects of these faults."""
    found = column_three()
    first = found.suspects[0]
    suspects = tuple(first.model_copy(update={"id": f"s{at}", "members": one}) for at, one in enumerate(groups, 1))
    best = found.explanations[0].model_copy(update={"suspects": tuple(one.id for one in suspects)})
    return found.model_copy(update={"suspects": suspects, "explanations": (best,)})


@pytest.mark.parametrize(
    ("groups", "place"),
    some_of(
        [
            ([(ANY_OTHER,), (OF_Q3, PLUG_PIN)], 1),
            ([(PLUG_PIN, OF_Q3), (OF_Q3, ANY_OTHER)], 1),
            ([(ANY_OTHER,), (PLUG_PIN, OF_Q3)], 1),
            ([(ANY_OTHER,), (PLUG_PIN,)], None),
        ],
        2,
    ),
    ids=["more faults", "led by the same", "led by another", "gone"],
)
async def test_a_chosen_suspect_stays_chosen_where_an_answer_groups_its_faults_otherwise(
    run: Run, monkeypatch: pytest.MonkeyPatch, groups: list[tuple[Fault, ...]], place: int | None
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run() as machine:
        await machine.press("s")
        assert "▸1 Switch column 3" in machine.text()
        monkeypatch.setattr(CannedBench, "answer", staticmethod(lambda: grouped(*groups)))
        await machine.press("minus")
        chosen = machine.app.screen.query_one(SuspectList).chosen
        assert (chosen.members if chosen else None) == (None if place is None else groups[place])
        if chosen is not None:
            await machine.press("m")
            first = next(line for line in machine.text().split("\n") if "Q3" in line or "X1-" in line)
            assert f" {chosen.members[0].part} " in f"{first} "


async def test_a_search_that_breaks_down_after_its_first_answer_leaves_no_still_looking(
    run: Run, slow: SlowBench
) -> None:
    def broken() -> Diagnosis:
        raise AnalysisError("the analysis failed", "all that was recorded is kept")

    slow.finished = broken
    async with run(on=slow) as machine:
        await machine.pilot.press("minus")
        await machine.until(lambda: STILL_LOOKING in machine.text())
        slow.gate.set()
        await machine.settle()
        assert "The analysis failed" in machine.text()
        assert STILL_LOOKING not in machine.text()


class HeldBench(SlowBench):
    """A bench that gives its first answer at once, and no other before `gate`."""

    def refine(
        self, job: str, seconds: float | None = None, dropped: Callable[[], bool] | None = None
    ) -> Iterator[Diagnosis]:
        """The same diagnosis each time."""
        del job, seconds
        self.runs += 1
        while self.runs > 1 and not self.gate.wait(0.001):
            if dropped is not None and dropped():
                return
        yield column_three()


@AT_EACH_SIZE
@pytest.mark.parametrize("chosen", [False, True], ids=["none chosen", "a suspect chosen"])
async def test_an_answer_from_before_the_last_entry_does_not_pass_for_a_new_one(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int], chosen: bool
) -> None:
    held = HeldBench(bench.path)
    async with run(size, on=held) as machine:
        await machine.press(*["s"] * chosen)

        def suspects() -> list[str]:
            widget = machine.app.screen.query_one(SuspectList)
            return machine.text().split("\n")[widget.region.y : widget.region.bottom]

        before = suspects()
        bench.note(job, "the answer stays as it is")
        await machine.until(lambda: "before the last entry" in machine.text())
        changed = [one for one, other in zip(before, suspects(), strict=True) if one != other]
        assert len(changed) == 1, "the word for it moves no line"
        held.gate.set()
        await machine.settle()
        assert suspects() == before
    held.close()


async def test_the_page_of_the_answer_does_not_hide_that_it_is_from_before_the_last_entry(
    run: Run, bench: CannedBench, job: str
) -> None:
    held = HeldBench(bench.path)
    held.gate.set()
    async with run(on=held) as machine:
        await machine.press("pagedown")
        assert "before the last entry" not in machine.text()
        held.gate.clear()
        bench.mark(job, "switches", "24")
        await machine.until(lambda: "before the last entry" in machine.text())
        assert "Switch column 3 is open" in machine.text()
        held.gate.set()
        await machine.until(lambda: "before the last entry" not in machine.text())
    held.close()
