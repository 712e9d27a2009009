"""Tabs hide nothing that waits in their matrix, and are told apart however little room there is."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from pilots import AT_EACH_SIZE, NOON, CannedBench, Machine, Run

from matrixcheck.bench import Bench
from matrixcheck.tui.text.tabs import Tally, tab_texts, told_apart

NAMES = st.lists(st.text("abc 1", min_size=1, max_size=12), min_size=1, max_size=9, unique=True)


def tabs(machine: Machine) -> str:
    """The line of the tabs."""
    return machine.text().split("\n")[1]


@given(NAMES, st.integers(3, 14))
def test_no_two_names_are_cut_to_the_same(names: list[str], room: int) -> None:
    short = told_apart(names, room)
    assert len(set(short)) == len(names)
    assert all(len(one) <= room for one in short)


@given(NAMES, st.integers(20, 120), st.integers(0, 9), st.booleans())
def test_what_waits_is_never_cut(names: list[str], width: int, count: int, under_way: bool) -> None:
    tallies = [Tally(name, name, 1, 9, count, count, under_way) for name in names]
    texts = tab_texts(tallies, names[0], width)
    for text, tally in zip(texts, tallies, strict=True):
        assert text.endswith(f"{tally.waiting} ")


@AT_EACH_SIZE
async def test_no_tab_hides_retests_put_off_cells_or_an_open_round(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    bench.mark(job, "switches", "31- 32-")
    bench.repair(job, "X1-3")
    bench.mark(job, "switches", "24. 25.")
    another = Bench(bench.path, clock=lambda: NOON, client="another")
    another.start_round(job, "lamps", "walk")
    another.close()
    async with run(size, matrix="coils") as machine:
        line = tabs(machine)
        switches, lamps = line.index("s"), line.index("la")
        assert "↻2 .2" in line[switches:lamps]
        assert "»" in line[lamps : line.index("co")]


async def test_a_round_that_ended_does_not_stay_on_its_tab(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "minus", "escape")
        assert "»" not in machine.text()


async def test_nothing_is_tested_yet_is_not_said_where_a_repair_made_it_due_again(
    run: Run, bench: CannedBench, job: str
) -> None:
    bench.mark(job, "switches", "31- 32-")
    bench.repair(job, "X1-3")
    async with run() as machine:
        shown = " ".join(machine.text().split())
        assert "Nothing is tested again since the repair." in shown
        assert "Nothing is tested yet" not in shown
