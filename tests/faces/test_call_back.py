"""What was typed is what is called back."""

from __future__ import annotations

import pytest
from pilots import Run

from tests.samples import some_of


def said(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("matrix", "typed", "back"),
    some_of(
        [
            ("switches", ("24+31",), "✓ working, 31 answered too"),
            ("switches", ("24/31",), "31 answered instead"),
            ("switches", ("24.",), " later"),
            ("switches", ("33*", "c3-"), "kept: 8 dead (33 was stuck)"),
            ("switches", ("21 22 23-",), "kept: 2 working, 1 dead"),
            ("switches", ("c3", "c3-"), "kept: 8 dead (31 was working, 32 was working, 33 was working and 5 more)"),
        ],
        2,
    ),
)
async def test_what_was_typed_is_called_back_with_all_that_it_says(
    run: Run, matrix: str, typed: tuple[str, ...], back: str
) -> None:
    async with run(matrix=matrix) as machine:
        for text in typed:
            await machine.type(text)
        assert back in said(machine.text())


@pytest.mark.parametrize(("measured", "judged"), [("4.1", "TOO"), ("{due}", "right")])
async def test_a_resistance_is_called_back_with_what_is_due(run: Run, measured: str, judged: str) -> None:
    async with run(matrix="coils") as machine:
        coils = machine.reader().state(machine.job).layout.matrix("coils").fitted
        coil = next(cell for cell in coils if cell.notes.ohms is not None and cell.notes.ohms > 5)
        await machine.type(f"{coil.number}={measured.format(due=coil.notes.ohms)}")
        shown = said(machine.text())
        assert f"due {coil.notes.ohms:g} Ω ±" in shown
        assert judged in shown
