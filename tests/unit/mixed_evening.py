"""An invented evening of every sort of entry, from a seed: what planted faults show, and much that fits none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.layout.model import Cell, Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.record.coil_lock import COIL_FUSE_OUT

PLANTED = ("unplugged:X5", "break:switches.c7:3", "shorted-together:lamps.c5:lamps.c6", "fuse-blown:F3")
SEEN = 13
"""How many of the steps of a hand tell what the planted faults show; each other sort comes once."""
OTHER_SORTS = (
    "stuck", "later", "echo", "instead", "ohms", "line",
    "rest scan", "hold round", "faint", "undo", "repair", "finding",
)  # fmt: skip
HAND = SEEN + len(OTHER_SORTS)


class Evening:
    """One job on a machine. Each step enters one thing through a bench, whichever client that belongs to."""

    def __init__(self, layout: Layout, job: str, seed: int) -> None:
        self.job = job
        self._layout = layout
        self._random = Random(seed)
        exercises = [Reading(matrix=one.id, cell=cell.key) for one in layout.matrices for cell in one.fitted]
        planted = [parse_fault(text, layout) for text in PLANTED]
        self._shown = {one.cell: one.answered or () for one in predict(layout, planted, exercises) if one.cell}
        self._sorts = self._hands()

    def step(self, bench: Bench) -> str:
        """Enter the next thing; what it was, in words. A coil that is on at rest has its fuse taken out at once."""
        sort = next(self._sorts)
        if sort == "undo" and bench.state(self.job).last_undoable is None:
            sort = "seen"
        matrix = self._random.choice(self._layout.matrices)
        says = self._enter(bench, sort, matrix)
        if bench.state(self.job).coils.stop:
            bench.safety(self.job, COIL_FUSE_OUT, passed=True)
        return f"{sort}: {says}"

    def _hands(self) -> Iterator[str]:
        """Sorts of entry without end; each of them is in every hand."""
        while True:
            hand = ["seen"] * SEEN + list(OTHER_SORTS)
            self._random.shuffle(hand)
            yield from hand

    def _enter(self, bench: Bench, sort: str, matrix: Matrix) -> str:
        match sort:
            case "undo":
                bench.undo(self.job)
                return ""
            case "repair" | "finding":
                return self._at_a_place(bench, sort)
            case "rest scan":
                text = self._places(matrix, self._random.choice((0, 0, 1, 2)))
                bench.rest_scan(self.job, matrix.id, text)
            case "hold round":
                text = self._hold_round(bench)
            case "faint":
                matrix = self._random.choice([one for one in self._layout.matrices if one.kind is Kind.LAMP])
                cell, other = self._cells(matrix, 2)
                faint = Reading(matrix=matrix.id, cell=cell.key, answered=(cell.key,), faint=(other.key,))
                bench.take_readings(self.job, [faint])
                text = f"{cell.key} with {other.key}"
            case _:
                text = self._typed(sort, matrix)
                bench.mark(self.job, matrix.id, text)
        return f"{matrix.id} {text}"

    def _typed(self, sort: str, matrix: Matrix) -> str:
        cell, other = (one.key.address for one in self._cells(matrix, 2))
        plain = {"stuck": f"{cell}*", "later": f"{cell}.", "echo": f"{cell}+{other}", "instead": f"{cell}/{other}"}
        if sort in plain:
            return plain[sort]
        if sort == "ohms":
            return f"{cell}={self._random.choice((0.2, 4.1, 4.2, 6.0, 900))}"
        if sort == "line":
            lines = [line.address for line in matrix.lines if matrix.cells_of(line)]
            return self._random.choice(lines) + self._random.choice(("", "-"))
        return " ".join(self._seen(one.key) for one in self._cells(matrix, self._random.choice((1, 1, 2, 4))))

    def _seen(self, cell: CellKey) -> str:
        """The entry for what the planted faults show while a cell is exercised."""
        others = "+".join(one.address for one in self._shown[cell] if one != cell)
        if cell in self._shown[cell]:
            return f"{cell.address}+{others}" if others else cell.address
        return f"{cell.address}/{others}" if others else f"{cell.address}-"

    def _hold_round(self, bench: Bench) -> str:
        """A hold round with its rest scan and two marks."""
        matrix = self._layout.matrix("switches")
        held = [cell.key for cell in self._cells(matrix, 2)]
        first, second = (cell.key for cell in self._cells(matrix, 2, but=held))
        showing = " ".join(key.address for key in held)
        bench.start_round(self.job, matrix.id, "hold", held)
        bench.rest_scan(self.job, matrix.id, showing)
        bench.mark(self.job, matrix.id, f"{first.address} {second.address}-")
        bench.end_round(self.job)
        return f"{showing}; {first.address} {second.address}-"

    def _at_a_place(self, bench: Bench, sort: str) -> str:
        matrix = self._random.choice(self._layout.matrices)
        line = self._random.choice([line for line in matrix.lines if matrix.cells_of(line)])
        parts = sorted(self._layout.lines_through)
        place = self._random.choice((str(line), str(self._cells(matrix, 1)[0].key), self._random.choice(parts)))
        if sort == "repair":
            bench.repair(self.job, place)
        else:
            bench.finding(self.job, Finding(place=place, verdict=self._random.choice(("good", "faulty"))))
        return place

    def _places(self, matrix: Matrix, count: int) -> str:
        return " ".join(cell.key.address for cell in self._cells(matrix, count))

    def _cells(self, matrix: Matrix, count: int, but: Sequence[CellKey] = ()) -> list[Cell]:
        left = [cell for cell in matrix.fitted if cell.key not in but]
        return self._random.sample(left, min(count, len(left)))
