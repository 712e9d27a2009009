"""Styles lie beside what they are for, and widths stand in one file."""

from __future__ import annotations

from pathlib import Path

import pytest
from pilots import NARROW, PHONE, WIDE, Run

from matrixcheck import tui
from matrixcheck.tui import widths
from matrixcheck.tui.app import styles

ROOM = Path(tui.__path__[0])


def test_every_style_lies_beside_the_module_that_it_is_for_and_is_loaded() -> None:
    found = sorted(ROOM.rglob("*.tcss"))
    assert len(found) > 10
    assert [path for path in found if not path.with_suffix(".py").exists()] == []
    assert sorted(styles()) == found


@pytest.mark.parametrize("size", [WIDE, NARROW, PHONE])
async def test_styles_and_code_agree_on_widths(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        screen = machine.app.screen
        assert screen.has_class(widths.class_of(size[0]))
        assert screen.query_one("#row-labels").size.width == widths.LABELS
        assert screen.query_one("#pane").outer_size.width == (widths.PANE if size[0] >= widths.WIDE else size[0])


@pytest.mark.parametrize(
    ("screen", "name"),
    [(10, "-phone"), (49, "-phone"), (50, "-narrow"), (83, "-narrow"), (84, "-wide"), (300, "-wide")],
)
def test_a_width_has_its_class(screen: int, name: str) -> None:
    assert widths.class_of(screen) == name
