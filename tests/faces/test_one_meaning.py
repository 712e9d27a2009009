"""A letter or sign has one meaning over all screens, and a meaning one letter or sign."""

from __future__ import annotations

import importlib
import pkgutil
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

import pytest
from textual.app import App
from textual.binding import Binding
from textual.screen import Screen
from textual.widget import Widget

from matrixcheck.record.entry import Verb
from matrixcheck.tui import screens, widgets
from matrixcheck.tui.action import ENTRY_STARTS, Action, Place
from matrixcheck.tui.actions import ANYWHERE, JOB, KEYPAD, PLACES, REST, SAFETY
from matrixcheck.tui.app import MatrixCheckApp
from matrixcheck.tui.keymap import textual_name
from matrixcheck.tui.screens.marking import FAINT

GO_WITH_THE_PLACE = frozenset({"Enter", "Esc", "Space", "Tab", "Shift+Tab", "Bksp", "↑", "↓", "←", "→", *"0123456789"})
SAME_KEY = {",": "."}
"""The decimal key of a keypad types one or the other."""
IN_AN_ENTRY = {Verb.DEAD: "bad", Verb.STUCK: "stuck", Verb.LATER: "later", Verb.OHMS: "measured", FAINT: "faint"}
"""What a sign says in a typed entry, by the name of the action that says the same."""
EVERY = (*PLACES.values(), ANYWHERE, KEYPAD)


def keys(action: Action) -> Iterator[str]:
    return (SAME_KEY.get(key, key) for key in (action.key, *action.also) if key not in GO_WITH_THE_PLACE)


def two_meanings(places: Iterable[Place]) -> dict[str, set[str]]:
    """The keys that mean more than one thing, with what."""
    meant: Mapping[str, set[str]] = defaultdict(set)
    for place in places:
        for action in place.actions:
            for key in keys(action):
                meant[key].add(action.name)
    return {key: names for key, names in meant.items() if len(names) > 1}


def two_keys(places: Iterable[Place]) -> dict[str, set[str]]:
    """The meanings that have more than one letter or sign, with these."""
    pressed: Mapping[str, set[str]] = defaultdict(set)
    for place in places:
        for action in place.actions:
            pressed[action.name] |= {key for key in keys(action) if len(key) == 1}
    return {name: signs for name, signs in pressed.items() if len(signs) > 1}


def bound_beside_the_table() -> set[tuple[str, str]]:
    """The letters and signs that Textual or one of our widgets binds by itself, with what they do."""
    bound = {
        (part.strip(), binding.action)
        for kind in _bearers()
        for one in vars(kind).get("BINDINGS", ())
        for binding in Binding.make_bindings([one])
        for part in binding.key.split(",")
    }
    written = {
        (textual_name(key), one.does) for place in EVERY for one in place.actions for key in (one.key, *one.also)
    }
    return {(key, does) for key, does in bound - written if len(key) == 1 or key in _signs()}


def _signs() -> frozenset[str]:
    return frozenset(textual_name(sign) for sign in "!\"#$%&'()*+,-./:;<=>?@[\\]^_`{|}~")


def _bearers() -> Iterator[type]:
    for room in (screens, widgets):
        for module in pkgutil.iter_modules(room.__path__, f"{room.__name__}."):
            for one in vars(importlib.import_module(module.name)).values():
                if isinstance(one, type) and issubclass(one, Widget):
                    yield from one.__mro__
    yield from (*MatrixCheckApp.__mro__, App, Screen)


def with_one_more(place: Place, action: Action) -> tuple[Place, ...]:
    """Every place, one of them with an action too many."""
    return tuple(one._replace(actions=(*one.actions, action)) if one is place else one for one in EVERY)


def test_no_letter_sign_or_f_key_means_two_things() -> None:
    assert two_meanings(EVERY) == {}


def test_no_meaning_has_two_letters_or_signs() -> None:
    assert two_keys(EVERY) == {}


def test_no_letter_or_sign_is_bound_beside_the_table() -> None:
    assert bound_beside_the_table() == set()


@pytest.mark.parametrize(
    ("place", "action", "clash"),
    [
        (SAFETY, Action("other", "s", "other", "help"), {"s": {"suspect", "other"}}),
        (REST, Action("other", "-", "other", "help"), {"-": {"bad", "other"}}),
        (REST, Action("other", "F5", "other", "help"), {"F5": {"redo", "other"}}),
        (JOB, Action("other", "Enter", "other", "help", also=("g",)), {"g": {"round", "other"}}),
        (ANYWHERE, Action("other", "q", "other", "help"), {"q": {"quit", "other"}}),
    ],
)
def test_a_second_meaning_of_a_key_is_seen_wherever_it_is_added(
    place: Place, action: Action, clash: dict[str, set[str]]
) -> None:
    assert two_meanings(with_one_more(place, action)) == clash


@pytest.mark.parametrize("key", ["x", "+"])
def test_a_second_key_of_a_meaning_is_seen(key: str) -> None:
    assert two_keys(with_one_more(SAFETY, Action("undo", key, "undo", "undo"))) == {"undo": {"u", key}}


def test_a_letter_that_a_widget_binds_by_itself_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Screen, "BINDINGS", [*Screen.BINDINGS, Binding("v,minus", "planted", "planted")])
    assert bound_beside_the_table() == {("v", "planted"), ("minus", "planted")}


def test_a_sign_means_what_it_means_in_an_entry() -> None:
    for place in EVERY:
        for action in place.actions:
            for key in keys(action):
                assert key not in ENTRY_STARTS - set(IN_AN_ENTRY), (place.name, action.name)
                assert IN_AN_ENTRY.get(key, action.name) == action.name, (place.name, action.name)


def test_bksp_only_takes_back() -> None:
    taken_back = {one.name for place in EVERY for one in place.actions if "Bksp" in (one.key, *one.also)}
    assert taken_back == {"undo", "strike", "drop"}
