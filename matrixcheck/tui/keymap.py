"""Keys as a person writes them, what Textual calls them, and which of them a person may give to another action.

A keymap says which actions have another key than the table gives them: keys as written, by the actions' names.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from matrixcheck.layout.problems import nearest, shown
from matrixcheck.tui.action import ENTRY_STARTS, Action, Group, Place
from matrixcheck.tui.actions import ANYWHERE, PLACES
from matrixcheck.tui.text.keys import Cap

Keymap = Mapping[str, str]

NO_KEYMAP: Keymap = MappingProxyType({})
FIXED = {"Enter": "enter", "Esc": "escape", "↑": "up", "↓": "down", "←": "left", "→": "right"}
"""Keys that mean the same everywhere and stay what they are."""
BAR = (Group.MOST, Group.OFTEN, Group.SELDOM)
"""The groups of a bar, in their order."""
FREE = {
    "Tab": "tab",
    "Shift+Tab": "shift+tab",
    "Space": "space",
    "Bksp": "backspace",
    "Del": "delete",
    "Ins": "insert",
    "PgUp": "pageup",
    "PgDn": "pagedown",
} | {f"F{number}": f"f{number}" for number in range(1, 13)}
GOES_WITH_PLACE = frozenset({"Tab", "Shift+Tab", "Space", "Bksp"})
"""Free keys that may mean something else at another place. A letter, a sign or an F-key may not."""
_NAMED = FIXED | FREE
_SHORT_NAMES = {
    "solidus": "slash",
    "reverse_solidus": "backslash",
    "commercial_at": "at",
    "hyphen_minus": "minus",
    "plus_sign": "plus",
    "low_line": "underscore",
}


class KeyRefusedError(Exception):
    """A key that an action can't have: the action's name (empty for none), why not, and what was probably meant."""

    def __init__(self, name: str, reason: str, meant: str | None = None) -> None:
        super().__init__(reason)
        self.name = name
        self.reason = reason
        self.meant = meant


def textual_name(key: str) -> str:
    """Give Textual's name of a key: `-` is "minus"."""
    if key in _NAMED:
        return _NAMED[key]
    if key.isalnum():
        return key
    name = unicodedata.name(key).lower().replace("-", "_").replace(" ", "_")
    return _SHORT_NAMES.get(name, name)


def key_of(action: Action, keymap: Keymap) -> str:
    """Give the key that an action has now."""
    return action.key if stays(action) else keymap.get(action.name, action.key)


def key_named(name: str, place: Place, keymap: Keymap) -> str:
    """Give the key that an action has at a place now. Raises KeyError where it doesn't hold there."""
    return key_of(_by_name(place)[name], keymap)


def keys_of(action: Action, keymap: Keymap) -> tuple[str, ...]:
    """Give all its keys: another one takes the place of every one that it had."""
    key = key_of(action, keymap)
    return (key, *action.also) if key == action.key else (key,)


def bar_of(place: Place, keymap: Keymap) -> tuple[Cap, ...]:
    """Give the keys that the bar of a place shows, those needed most first."""
    return tuple(cap for group in BAR for cap in _caps(place.actions, keymap, {group}))


def tiles_of(place: Place, keymap: Keymap) -> tuple[Cap, ...]:
    """Give the keys that a phone shows as tiles there."""
    tiles = [one._replace(word=one.tile_word) for one in place.actions if one.tile_word]
    return tuple(cap for group in (*BAR, Group.TILE) for cap in _caps(tiles, keymap, {group}))


def list_of(place: Place, keymap: Keymap) -> tuple[Cap, ...]:
    """Give every key of a place: what the help and the list of actions show."""
    return _caps(place.actions, keymap, set(Group) - {Group.TILE, Group.UNSEEN})


def often_of(place: Place, keymap: Keymap) -> frozenset[str]:
    """Give the keys that a narrow bar shows before others."""
    return frozenset(cap.key for cap in _caps(place.actions, keymap, {Group.MOST, Group.OFTEN}))


def cap_of(action: Action, keymap: Keymap) -> Cap:
    """Give the key of one action."""
    rank = BAR.index(action.group) if action.group in BAR else len(BAR) - 1
    return Cap(key_of(action, keymap), action.word, action.does, action.says, rank)


def waiting_cap(keymap: Keymap) -> Cap:
    """Give the key that shows what isn't kept yet."""
    return _caps(ANYWHERE.actions, keymap, set(Group))[0]


def checked(keys: Mapping[str, object]) -> Keymap:
    """Check the keys that a person gave, by the actions' names. Raises KeyRefusedError for the first that can't be."""
    known = remappable()
    keymap: dict[str, str] = {}
    for name, given in keys.items():
        if name not in known:
            raise KeyRefusedError(name, "no such action", nearest(name, known))
        keymap[name] = _key(name, given)
    for name in keymap:
        _refuse_clashes(name, keymap)
    return MappingProxyType(keymap)


def remappable() -> dict[str, tuple[Action, tuple[str, ...]]]:
    """Give every action that may have another key, by name: how it is first met, and the names of all its places."""
    found: dict[str, tuple[Action, tuple[str, ...]]] = {}
    for place in (*PLACES.values(), ANYWHERE):
        for name, action in _by_name(place).items():
            if not stays(action):
                first, places = found.get(name, (action, ()))
                found[name] = first, (*places, place.name)
    return found


def _by_name(place: Place) -> dict[str, Action]:
    """Return the actions of a place by name; a tile repeats one that is there already, in other words."""
    found: dict[str, Action] = {}
    for action in place.actions:
        found.setdefault(action.name, action)
    return found


def stays(action: Action) -> bool:
    """Say whether an action keeps its key, whatever a person sets."""
    return action.own or action.key in FIXED


def _key(name: str, given: object) -> str:
    if not isinstance(given, str):
        raise KeyRefusedError(name, f"{shown(given)} is not text: put it in quotes")
    named = {key.casefold(): key for key in _NAMED}
    key = named.get(given.casefold(), given)
    if key in FIXED:
        raise KeyRefusedError(name, f"{key} means the same everywhere")
    if key in FREE:
        return key
    if len(key) != 1 or not key.isascii() or not key.isprintable() or key == " ":
        raise KeyRefusedError(name, f"{shown(given)} is not a key")
    if key.isdecimal():
        raise KeyRefusedError(name, f"{key} begins a number")
    return key


def _refuse_clashes(name: str, keymap: Keymap) -> None:
    """Refuse the key that an action was given where it begins an entry, or means something else."""
    key, every = keymap[name], tuple(PLACES.values())
    anywhere = name in _by_name(ANYWHERE)
    own = tuple(
        place for place in every if anywhere or any(one.name == name and not stays(one) for one in place.actions)
    )
    if key in ENTRY_STARTS:
        raise KeyRefusedError(name, f"{key} begins an entry")
    for place in own if key in GOES_WITH_PLACE else (*own, *every):
        if place in own and key in place.typed:
            raise KeyRefusedError(name, f"{key} begins an entry ({place.name})")
        for other in (*place.actions, *ANYWHERE.actions):
            if other.name != name and key in keys_of(other, keymap):
                raise KeyRefusedError(name, f"{key} is the key of {other.name} as well ({place.name})")


def _caps(actions: Iterable[Action], keymap: Keymap, groups: set[Group]) -> tuple[Cap, ...]:
    return tuple(cap_of(action, keymap) for action in actions if action.group in groups)
