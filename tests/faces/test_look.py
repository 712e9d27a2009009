"""What a person has set of the screens holds in them, and a theme that is chosen there is kept."""

from __future__ import annotations

import pytest
from pilots import Run

from matrixcheck.errors import UsageError
from matrixcheck.tui.look import THEME_NAMES, Look
from matrixcheck.tui.messages import Ring
from matrixcheck.tui.themes import NAMED


@pytest.mark.parametrize("name", THEME_NAMES)
async def test_the_screens_start_with_the_theme_that_is_set(run: Run, name: str) -> None:
    async with run(look=Look(theme=name)) as machine:
        assert machine.app.current_theme is NAMED[name]


async def test_each_theme_comes_in_its_turn_and_each_that_is_chosen_is_kept(run: Run) -> None:
    kept: list[str] = []
    async with run(keep_theme=kept.append) as machine:
        for _ in THEME_NAMES:
            await machine.press("f12")
            assert machine.app.current_theme is NAMED[kept[-1]]
    assert kept == [*THEME_NAMES[1:], THEME_NAMES[0]]


async def test_a_theme_that_cannot_be_kept_is_shown_all_the_same_and_the_reason_is_said(run: Run) -> None:
    def refuse(_: str) -> None:
        raise UsageError("'config.toml' may not be written", "make it writable")

    async with run(keep_theme=refuse) as machine:
        await machine.press("f12")
        assert machine.app.current_theme is NAMED["light"]
        assert ["config.toml" in one.message for one in machine.app._notifications] == [True]


@pytest.mark.parametrize("bell", [True, False])
async def test_the_bell_rings_from_the_start_only_where_it_is_set(
    run: Run, bell: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    rung: list[bool] = []
    async with run(look=Look(bell=bell)) as machine:
        monkeypatch.setattr(machine.app, "bell", lambda: rung.append(True))
        machine.app.screen.post_message(Ring())
        await machine.settle()
    assert rung == [True] * bell
