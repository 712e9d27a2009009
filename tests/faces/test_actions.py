"""One table of actions: bindings, bars, help, tiles and the list of actions are made of it and of nothing else."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pilots import PHONE, WIDE, CannedBench, Machine, Run
from textual.keys import _character_to_key
from textual.screen import Screen
from textual.widgets import Input

from matrixcheck.layout.reading import Mark
from matrixcheck.tui import actions, navigation, screens
from matrixcheck.tui.action import EVERYTHING, Action, Group, Place
from matrixcheck.tui.actions import ANYWHERE, PLACES
from matrixcheck.tui.actions.shared import HELP, KEYPAD_TILE
from matrixcheck.tui.app import MatrixCheckApp
from matrixcheck.tui.keymap import (
    FREE,
    NO_KEYMAP,
    Keymap,
    KeyRefusedError,
    bar_of,
    checked,
    key_of,
    keys_of,
    list_of,
    remappable,
    textual_name,
    tiles_of,
    waiting_cap,
)
from matrixcheck.tui.look import Look
from matrixcheck.tui.navigation import screen_class
from matrixcheck.tui.screens.bench import BenchScreen
from matrixcheck.tui.screens.find import FindScreen
from matrixcheck.tui.screens.help import HelpScreen
from matrixcheck.tui.screens.later import LaterScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Picks
from tests.samples import some_of


def _screens() -> Iterator[type[Screen[object]]]:
    """Every screen that has a place, each once."""
    for module in pkgutil.iter_modules(screens.__path__, f"{screens.__name__}."):
        for one in vars(importlib.import_module(module.name)).values():
            if isinstance(one, type) and one.__module__ == module.name and "PLACE" in vars(one):
                yield one


SCREENS = tuple(_screens())
KEYMAP = checked(
    {
        "undo": "z",
        "nothing": "_",
        "round": "F11",
        "help": "F1",
        "later_list": "]",
        "waiting": "F10",
        "new": ":",
    }
)


def text_of(lines: Lines) -> str:
    return "\n".join("".join(text for text, _ in row) for row in lines.rows)


def test_every_place_has_its_screen_and_every_screen_its_place() -> None:
    held = [screen.PLACE for screen in SCREENS]
    assert sorted(place.name for place in held) == sorted(PLACES)
    assert [PLACES[place.name] is place for place in held] == [True] * len(held)
    assert {name: screen_class(name) for name in navigation.SCREENS} == {one.PLACE.name: one for one in SCREENS}
    written = [one for one in vars(actions).values() if isinstance(one, Place)]
    assert {one.name for one in written} == {*PLACES, ANYWHERE.name, actions.KEYPAD.name}


@pytest.mark.parametrize("screen", SCREENS, ids=lambda screen: screen.__name__)
def test_a_screen_binds_the_keys_of_its_place_and_no_others(screen: type[Screen[object]]) -> None:
    textuals = set(Screen._merged_bindings.key_to_bindings)
    bound = {
        (key, binding.action)
        for key, bindings in screen._merged_bindings.key_to_bindings.items()
        for binding in bindings
        if not binding.system and not (key in textuals and binding in Screen._merged_bindings.key_to_bindings[key])
    }
    said = {(textual_name(key), one.does) for one in screen.PLACE.actions for key in keys_of(one, NO_KEYMAP)}
    assert bound == said


@pytest.mark.parametrize("screen", SCREENS, ids=lambda screen: screen.__name__)
def test_every_action_is_something_that_its_screen_or_the_program_does(screen: type[Screen[object]]) -> None:
    for action in (*screen.PLACE.actions, *ANYWHERE.actions):
        name = action.does.partition("(")[0]
        holder: type[object] = MatrixCheckApp if name.startswith("app.") else screen
        assert hasattr(holder, f"action_{name.removeprefix('app.')}"), action


def test_a_key_means_one_thing_at_a_place() -> None:
    for place in PLACES.values():
        met: dict[str, Action] = {}
        for action in place.actions:
            for key in keys_of(action, NO_KEYMAP):
                assert met.setdefault(key, action).does == action.does, (place.name, key)


def test_no_key_needs_ctrl_or_alt_and_none_is_typed_into_an_entry() -> None:
    for place in PLACES.values():
        for action in place.actions:
            for key in keys_of(action, NO_KEYMAP):
                assert "ctrl" not in textual_name(key)
                assert "alt" not in textual_name(key)
                assert key not in place.typed, (place.name, action.name)


def test_all_of_an_action_is_written_down() -> None:
    for place in PLACES.values():
        for action in place.actions:
            assert action.name.replace("_", "").isalpha()
            assert action.word
            assert action.meaning


def test_signs_are_called_as_textual_calls_them() -> None:
    for sign in sorted(EVERYTHING):
        assert textual_name(sign) == _character_to_key(sign)


@pytest.mark.parametrize("keymap", [NO_KEYMAP, KEYMAP], ids=["as shipped", "remapped"])
@pytest.mark.parametrize("place", PLACES.values(), ids=lambda place: place.name)
def test_bar_help_tiles_and_list_hold_what_the_table_holds(place: Place, keymap: Keymap) -> None:
    listed = list_of(place, keymap)
    every = {(key_of(one, keymap), one.does) for one in place.actions if one.group is not Group.UNSEEN}
    assert [cap for cap in bar_of(place, keymap) if cap not in listed] == []
    tiles = {(cap.key, cap.action) for cap in tiles_of(place, keymap)}
    assert {(cap.key, cap.action) for cap in listed} | tiles == every
    assert every - {(cap.key, cap.action) for cap in listed} <= {(key_of(KEYPAD_TILE, keymap), "pad")}


@pytest.mark.parametrize("keymap", [NO_KEYMAP, KEYMAP], ids=["as shipped", "remapped"])
@pytest.mark.parametrize(
    ("place", "keys"), some_of([("job", ""), ("roll", "round 1"), ("parts", "parts"), ("log", "history")], 2)
)
async def test_what_is_bound_shown_helped_and_listed_is_what_is_in_force(
    run: Run, place: str, keys: str, keymap: Keymap
) -> None:
    async with run(WIDE, look=Look(keys=keymap)) as machine:
        await go(machine, keys, keymap)
        screen = machine.app.screen
        held = PLACES[place]
        assert screen.PLACE is held
        active = {key: one.binding.action for key, one in screen.active_bindings.items()}
        for action in held.actions:
            if action.group is not Group.TILE:
                assert [active[textual_name(key)] for key in keys_of(action, keymap)] == [action.does] * len(
                    keys_of(action, keymap)
                )
        freed = {action.key for name, (action, _) in remappable().items() if name in keymap}
        taken = {key for action in held.actions for key in keys_of(action, keymap)}
        assert [key for key in freed - taken if textual_name(key) in active] == []
        bar = text_of(screen.query_one("#keys", KeyBar))
        unsaid = {cap.action for cap in bar_of(held, keymap) if f"{cap.key} {cap.word}" not in bar}
        assert unsaid == ({"retest"} if place == "job" else set()), "nothing is due for a retest"
        await machine.press(textual_name(key_of(HELP, keymap)))
        assert isinstance(machine.app.screen, HelpScreen)
        helped = " ".join(text_of(machine.app.screen.query(Lines).first()).split())
        assert [cap for cap in list_of(held, keymap) if f"{cap.key} {cap.meaning}" not in helped] == []


async def go(machine: Machine, names: str, keymap: Keymap) -> None:
    """Go somewhere by the keys that actions have now; a figure is itself."""
    known = remappable()
    for name in names.split():
        await machine.press(textual_name(key_of(known[name][0], keymap)) if name in known else name)


async def test_the_list_of_actions_offers_actions_with_their_keys(run: Run) -> None:
    asked = ("undo", "a round through this matrix", "show the later list", "bench checks of the suspect")
    caps = [cap for cap in list_of(actions.JOB, KEYMAP) if cap.meaning in asked]
    assert [cap.key for cap in caps] == ["z", "F11", "]", "k"]
    async with run(look=Look(keys=KEYMAP)) as machine:
        for cap in caps:
            await machine.press("x")
            assert isinstance(machine.app.screen, FindScreen)
            await machine.press(*(sign if sign != " " else "space" for sign in cap.meaning))
            assert f"{cap.meaning}  ({cap.key})" in text_of(machine.app.screen.query_one(Picks))
            await machine.press("escape")


@pytest.mark.parametrize("keymap", [NO_KEYMAP, KEYMAP], ids=["as shipped", "remapped"])
async def test_a_phones_tiles_show_the_keys_in_force(run: Run, bench: CannedBench, job: str, keymap: Keymap) -> None:
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    async with run(PHONE, look=Look(keys=keymap)) as machine:
        tiles = text_of(machine.app.screen.query_one("#keys", KeyBar))
        for cap in tiles_of(actions.JOB, keymap):
            assert cap.key in tiles
            assert cap.word in tiles


async def test_another_key_does_what_the_first_did_and_the_first_does_nothing(run: Run) -> None:
    async with run(look=Look(keys=KEYMAP)) as machine:
        await machine.press("down", "enter")
        assert machine.mark("r2c1") is Mark.WORKING
        await machine.press("u")
        assert machine.mark("r2c1") is Mark.WORKING
        await machine.press("z")
        assert machine.mark("r2c1") is Mark.UNTESTED
        await machine.press("right_square_bracket")
        assert isinstance(machine.app.screen, LaterScreen)


async def test_two_actions_may_change_keys_with_each_other(run: Run) -> None:
    async with run(look=Look(keys=checked({"undo": "s", "suspect": "u"}))) as machine:
        await machine.press("enter", "u")
        assert machine.mark("r1c1") is Mark.WORKING
        await machine.press("s")
        assert machine.mark("r1c1") is Mark.UNTESTED


async def test_what_is_said_names_the_keys_in_force(run: Run) -> None:
    async with run(look=Look(keys=KEYMAP)) as machine:
        assert "F11 a round; F1 every key" in " ".join(machine.text().split())
        await machine.press("b")
        assert isinstance(machine.app.screen, BenchScreen)
        await machine.press("colon")
        assert machine.app.screen.query(Input)
    assert waiting_cap(KEYMAP).key == "F10"


async def test_a_roll_takes_every_letter_whatever_its_key_is(run: Run) -> None:
    async with run(look=Look(keys=KEYMAP)) as machine:
        await machine.press("f11", "1", "z")
        screen = machine.app.screen
        assert isinstance(screen, RollScreen)
        assert screen.entry.text == "z"
        await machine.press("question_mark", "ampersand")
        assert screen.entry.text == "z?&"
        await machine.press(*["backspace"] * 3, "ampersand", "question_mark", "f1")
        assert isinstance(machine.app.screen, HelpScreen)


@pytest.mark.parametrize(
    ("keys", "blamed", "says"),
    [
        ({"rond": "z"}, "rond", "no such action"),
        ({"undo": 3}, "undo", "3 is not text"),
        ({"undo": "ctrl+z"}, "undo", "'ctrl+z' is not a key"),
        ({"undo": ""}, "undo", "'' is not a key"),
        ({"undo": " "}, "undo", "' ' is not a key"),
        ({"undo": "ä"}, "undo", "'ä' is not a key"),
        ({"undo": "7"}, "undo", "7 begins a number"),
        ({"undo": "Enter"}, "undo", "Enter means the same everywhere"),
        ({"undo": "esc"}, "undo", "Esc means the same everywhere"),
        ({"undo": "g"}, "undo", "g is the key of round as well (job)"),
        ({"undo": "k"}, "undo", "k is the key of checks as well (job)"),
        ({"undo": "n"}, "undo", "n is the key of new as well (safety)"),
        ({"archive": "u"}, "archive", "u is the key of undo as well (job)"),
        ({"close_job": "r"}, "close_job", "r begins an entry"),
        ({"bell": "Z"}, "bell", "Z begins an entry (roll)"),
        ({"due": "Space"}, "due", "Space is the key of tick as well (rest scan)"),
        ({"pause": "Bksp"}, "pause", "Bksp is the key of undo as well (timed walk)"),
        ({"waiting": "Space"}, "waiting", "Space is the key of pause as well (timed walk)"),
        ({"waiting": "%"}, "waiting", "% begins an entry (roll)"),
        ({"undo": "F3"}, "undo", "F3 is the key of waiting as well (job)"),
        ({"undo": "c"}, "undo", "c begins an entry"),
        ({"help": "h"}, "help", "h is the key of history as well (job)"),
        ({"undo": "z", "round": "z"}, "undo", "z is the key of round as well (job)"),
        ({"working": "z"}, "working", "no such action"),
    ],
)
def test_a_key_that_an_action_cannot_have_is_refused(keys: dict[str, object], blamed: str, says: str) -> None:
    with pytest.raises(KeyRefusedError) as refused:
        checked(keys)
    assert refused.value.name == blamed
    assert says in refused.value.reason


NAMES = st.sampled_from(sorted(remappable()))
KEYS = st.sampled_from([*sorted(EVERYTHING), *sorted(FREE)])


@given(st.dictionaries(NAMES, KEYS, max_size=6))
def test_what_is_taken_leaves_every_key_one_meaning_everywhere(keys: dict[str, str]) -> None:
    try:
        keymap = checked(keys)
    except KeyRefusedError as refused:
        blamed = refused.name
    else:
        blamed = ""
    if blamed:
        assert blamed in keys
        return
    for place in PLACES.values():
        for action in place.actions:
            others = {key for one in place.actions if one.does != action.does for key in keys_of(one, keymap)}
            assert not others & set(keys_of(action, keymap)), (place.name, action.name)
            assert action.name not in keymap or key_of(action, keymap) not in place.typed


@pytest.mark.parametrize("typed", ["f10", "F10", "space", "TAB", "bksp", ":", "Z"])
def test_keys_are_taken_however_their_names_are_written(typed: str) -> None:
    key = checked({"fuse_out": typed})["fuse_out"]
    assert key.casefold() == typed.casefold()
    assert textual_name(key)
