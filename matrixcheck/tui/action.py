"""What an action is: something that a key does at a place. The table of all of them is `actions.py`."""

from __future__ import annotations

from enum import Enum, auto
from typing import NamedTuple


class Group(Enum):
    """How often an action is needed, and so where it is shown."""

    ALWAYS = auto()
    """In every bar, and among a phone's tiles."""
    OFTEN = auto()
    """In the bar; where a terminal is narrow before those that are needed more seldom."""
    SELDOM = auto()
    """In the bar, as far as there is room."""
    LISTED = auto()
    """In the help and in the list of actions only."""
    TILE = auto()
    """Among a phone's tiles only."""
    UNSEEN = auto()
    """Nowhere: it does what another key of the place does, which is shown."""


class Action(NamedTuple):
    """One thing that a key does: its name, the key as bar and help write it, a word for the bar, and what is run.

    `says` is what the help says, where the word alone is too short; `also` are more keys, shown nowhere. `own`: a key
    of this place alone, which stays what it is when the name gets another.
    """

    name: str
    key: str
    word: str
    does: str
    says: str = ""
    group: Group = Group.ALWAYS
    also: tuple[str, ...] = ()
    own: bool = False

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
