"""Everything that a key does on the screens: the one table of which bindings, key bars, help, a phone's tiles and the
list of actions are made.

An action has one name wherever it is met; a person may give that name another key (`keymap.py`). Nothing here needs
Textual: the configuration is checked against this table.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from matrixcheck.tui.action import Place
from matrixcheck.tui.actions.job import ANYWHERE, JOB, KEYPAD
from matrixcheck.tui.actions.pages import ANSWER, BENCH, CHECKS, COMPARE, FUNCTIONS, LATER_PAGE, LOG, PARTS, SAFETY
from matrixcheck.tui.actions.rounds import ALL_LIT, CHOOSE_HOLD, CHOOSE_ROUND, HOLD, REST, ROLL, TIMED_WALK, WALK
from matrixcheck.tui.actions.sheets import (
    ASK,
    CORRECT,
    EDIT_JOB,
    FIND,
    HELP_PAGE,
    IMPORT_CHART,
    NEW_JOB,
    REPAIR,
    STOP,
    WAITING,
    WORDS,
)

__all__ = [
    "ALL_LIT",
    "ANSWER",
    "ANYWHERE",
    "ASK",
    "BENCH",
    "CHECKS",
    "CHOOSE_HOLD",
    "CHOOSE_ROUND",
    "COMPARE",
    "CORRECT",
    "EDIT_JOB",
    "FIND",
    "FUNCTIONS",
    "HELP_PAGE",
    "HOLD",
    "IMPORT_CHART",
    "JOB",
    "KEYPAD",
    "LATER_PAGE",
    "LOG",
    "NEW_JOB",
    "PARTS",
    "PLACES",
    "REPAIR",
    "REST",
    "ROLL",
    "SAFETY",
    "STOP",
    "TIMED_WALK",
    "WAITING",
    "WALK",
    "WORDS",
]

_EVERY = (
    *(JOB, ROLL, HOLD, WALK, TIMED_WALK, ALL_LIT, REST),
    *(BENCH, EDIT_JOB, COMPARE, ANSWER, CHECKS, PARTS, REPAIR, SAFETY, FUNCTIONS, LOG, LATER_PAGE),
    *(CHOOSE_ROUND, CHOOSE_HOLD, FIND, WORDS, ASK, STOP, WAITING, NEW_JOB, IMPORT_CHART, CORRECT, HELP_PAGE),
)
PLACES: Mapping[str, Place] = MappingProxyType({place.name: place for place in _EVERY})
"""All places by name."""
