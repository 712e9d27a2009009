"""What an action is: something that a key does at a place. The table of all of them is `actions.py`."""

from __future__ import annotations

from enum import Enum, auto
from typing import NamedTuple


class Group(Enum):
    """How often an action is needed, and so where it is shown."""

    MOST = auto()
    """In every bar first, and among a phone's tiles: what every device asks for."""
    OFTEN = auto()
    """In the bar next, and among a phone's tiles."""
    SELDOM = auto()
    """In the bar last, as far as there is room, and no tile of a phone's."""
    LISTED = auto()
    """In the help and in the list of actions only."""
    TILE = auto()
    """Among a phone's tiles only."""
    UNSEEN = auto()
    """Nowhere: it does what another key of the place does, which is shown."""


TILED = frozenset({Group.MOST, Group.OFTEN, Group.TILE})


class Action(NamedTuple):
    """One thing that a key does: its name, the key as bar and help write it, a word for the bar, and what is run.

    `says` is what the help says, where the word alone is too short; `also` are more keys, shown nowhere. `own`: a key
    of this place alone, which stays what it is when the name gets another. `tile` is the word of a phone's tile, empty
    where there is none; without it the group says whether there is one.
    """

    name: str
    key: str
    word: str
    does: str
    says: str = ""
    group: Group = Group.OFTEN
    also: tuple[str, ...] = ()
    own: bool = False
    tile: str | None = None

    @property
    def tile_word(self) -> str:
        """Return the word of its tile on a phone, empty where it has none."""
        if self.tile is not None:
            return self.tile
        return self.word if self.group in TILED else ""

    @property
    def meaning(self) -> str:
        """Return what it does, in as many words as that takes."""
        return self.says or self.word


class Place(NamedTuple):
    """Where actions hold: a screen, the heading of its help, and its actions in the order in which they are shown.

    `typed` are the letters and signs that begin an entry there, and so are no keys.
    """

    name: str
    title: str
    actions: tuple[Action, ...]
    typed: frozenset[str] = frozenset()


LETTERS = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ")
SIGNS = frozenset("!\"#$%&'()*+,-./:;<=>?@[\\]^_`{|}~")
ENTRY_STARTS = frozenset("+/=cr")
EVERYTHING = LETTERS | SIGNS
