"""The keys of every bar in groups, by how often they are needed: the most needed first, and seen apart."""

from __future__ import annotations

import itertools

import pytest
from pilots import NARROW, PHONE, WIDE, Run, at_sizes
from syrupy.assertion import SnapshotAssertion

from matrixcheck.tui.action import Group, Place
from matrixcheck.tui.actions import PLACES
from matrixcheck.tui.keymap import NO_KEYMAP, bar_of, tiles_of
from matrixcheck.tui.text.keys import RULE, Cap, key_rows, placed
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.keybar import KeyBar

EVERY = pytest.mark.parametrize("place", PLACES.values(), ids=lambda place: place.name)
GROUPS = (Group.MOST, Group.OFTEN, Group.SELDOM)


def ranks(caps: tuple[Cap, ...]) -> list[int]:
    return [cap.rank for cap in caps]


@EVERY
def test_what_is_needed_most_stands_first_in_every_bar_and_among_the_tiles(place: Place) -> None:
    groups = {one.does: GROUPS.index(one.group) for one in place.actions if one.group in GROUPS}
    bar = bar_of(place, NO_KEYMAP)
    assert ranks(bar) == [groups[cap.action] for cap in bar] == sorted(ranks(bar))
    assert bar[0].rank == 0 or place.name == "help"
    assert ranks(tiles_of(place, NO_KEYMAP)) == sorted(ranks(tiles_of(place, NO_KEYMAP)))


@EVERY
@pytest.mark.parametrize("width", [98, 58, 37])
def test_a_rule_stands_before_each_further_group_at_any_width(place: Place, width: int) -> None:
    bar = bar_of(place, NO_KEYMAP)
    places = placed(bar, width)
    rows = [plain([row]) for row in key_rows(places)]
    assert all(len(row) <= width for row in rows)
    assert "".join(rows).count(RULE) == len(set(ranks(bar))) - 1
    for before, one in itertools.pairwise(places):
        ruled = rows[one.top][max(one.left - len(RULE), 0) : one.left] == RULE
        assert ruled is (before.cap.rank != one.cap.rank), one.cap.word
        assert rows[one.top][one.left : one.right] == f"{one.cap.key} {one.cap.word}"


@EVERY
def test_groups_of_buttons_are_seen_apart_with_no_more_lines(place: Place) -> None:
    bar = bar_of(place, NO_KEYMAP)
    places = placed(bar, PHONE[0], tall=True)
    rows = [plain([row]) for row in key_rows(places)]
    alike = placed([cap._replace(rank=0) for cap in bar], PHONE[0], tall=True)
    assert len(rows) == max(one.top + one.height for one in alike)
    for before, one in itertools.pairwise(places):
        if one.left:
            ruled = {row[one.left - 1 : one.left] for row in rows[one.top : one.top + one.height]} == {RULE[0]}
        else:
            ruled = "─" in rows[one.top - 1]
        assert ruled is (before.cap.rank != one.cap.rank), one.cap.word
    assert not any(RULE[0] in row or "─" in row for row in (plain([row]) for row in key_rows(alike)))


@at_sizes(WIDE, NARROW, PHONE)
@pytest.mark.parametrize(
    ("matrix", "keys"), [("switches", ""), ("lamps", "g 1"), ("switches", "g 3"), ("switches", "a")]
)
async def test_the_bar_of_a_screen_shows_its_groups(
    run: Run, size: tuple[int, int], matrix: str, keys: str, snapshot: SnapshotAssertion
) -> None:
    async with run(size, matrix=matrix) as machine:
        await machine.press(*keys.split())
        assert plain(machine.app.screen.query_one("#keys", KeyBar).rows) == snapshot
