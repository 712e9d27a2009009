"""What the keys do in the rounds, and where a round is chosen."""

from __future__ import annotations

from matrixcheck.tui.action import ENTRY_STARTS, EVERYTHING, Action, Group, Place
from matrixcheck.tui.actions.shared import (
    ABOVE,
    ACTIONS,
    ANSWER_SHOWN,
    BAD,
    BELOW,
    DIFFERED,
    DROP_REFUSED,
    END,
    FAINT,
    HELP,
    HISTORY_SHOWN,
    KEYPAD_TILE,
    LATER,
    LEAVE,
    MOVES,
    NOTE,
    PICK,
    PUT_OFF,
    REDO,
    STUCK,
    TAKE_UP,
    UNDO,
    UNDO_BY_BKSP,
)

BESIDE = (NOTE._replace(group=Group.SELDOM), HISTORY_SHOWN, ANSWER_SHOWN)
"""What is one key away during a round."""
BESIDE_ROLL = (
    NOTE._replace(key="Ins", own=True, group=Group.SELDOM),
    HISTORY_SHOWN._replace(key="PgUp", own=True),
    ANSWER_SHOWN,
)
KEEP = Action("keep", "Enter", "keep", "keep_typed", group=Group.MOST, tile="Enter")
HOLD_THESE = Action("pick", "Enter", "start", "take_or_pick", "they are closed now", Group.MOST, tile="Enter")
ROLL = Place(
    "roll",
    "Rolling",
    (
        KEEP,
        UNDO_BY_BKSP._replace(group=Group.MOST),
        Action("other_name", "Tab", "other name", "other", "take another of the names found", tile=""),
        Action("bell", "F2", "bell", "app.bell_on_off", "a bell for every number kept, or none", Group.SELDOM),
        HELP,
        END,
        REDO._replace(key="F5", own=True),
        DIFFERED,
        *BESIDE_ROLL,
        TAKE_UP,
        DROP_REFUSED,
        *MOVES,
    ),
    EVERYTHING - {"?", "&"},
)

HOLD = ROLL._replace(name="hold", title="Hold round")
WALK = Place(
    "walk",
    "Walking",
    (
        Action("working", "Enter", "works", "judge('')", group=Group.MOST),
        BAD,
        STUCK,
        LATER,
        Action("one_back", "←", "back", "go(-1)", "back to the one before"),
        Action("one_on", "→", "skip", "go(1)", "pass over without a mark"),
        UNDO,
        UNDO_BY_BKSP,
        HELP,
        END,
        ACTIONS,
        REDO,
        DIFFERED,
        PUT_OFF,
        FAINT,
        *BESIDE,
        TAKE_UP,
        DROP_REFUSED,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

TIMED_WALK = Place(
    "timed walk",
    "The timed walk",
    (
        Action("step", "Enter", "step", "tap", "the machine steps just now", Group.MOST),
        BAD,
        STUCK,
        LATER,
        Action("pause", "Space", "pause", "pause", "stop, or go on"),
        Action("one_back", "←", "back", "go(-1)", "the machine is one back"),
        Action("one_on", "→", "on", "go(1)", "the machine is one on"),
        Action("earlier", "<", "earlier", "earlier", "that was the device before"),
        UNDO,
        UNDO_BY_BKSP,
        HELP,
        END,
        ACTIONS,
        REDO,
        DIFFERED,
        PUT_OFF,
        FAINT,
        *BESIDE,
        TAKE_UP,
        DROP_REFUSED,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

ALL_LIT = Place(
    "all at once",
    "All at once",
    (
        Action("rest_lit", "Enter", "rest lit", "rest", "all others are lit", Group.MOST),
        BAD._replace(word="dark", does="turn", says="this one is dark, or lit after all"),
        UNDO,
        UNDO_BY_BKSP,
        HELP,
        END,
        ACTIONS,
        REDO,
        DIFFERED,
        *BESIDE,
        TAKE_UP,
        DROP_REFUSED,
        *MOVES,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

REST = Place(
    "rest scan",
    "Rest scan",
    (
        Action("keep", "Enter", "keep", "keep", "nothing else shows: keep the scan", Group.MOST),
        Action("tick", "Space", "tick", "tick", "tick it, or take the tick away", Group.MOST),
        Action("nothing", "z", "none", "nothing", "nothing shows at all: keep that"),
        Action("due", "Tab", "due", "due", "tick all that should be closed"),
        HELP,
        END,
        ACTIONS,
        *BESIDE,
        TAKE_UP,
        DROP_REFUSED,
        *MOVES,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

CHOOSE_ROUND = Place("choose a round", "", (PICK, ABOVE, BELOW, LEAVE))
CHOOSE_HOLD = Place(
    "choose what to hold",
    "",
    (
        HOLD_THESE,
        ABOVE._replace(tile=""),
        BELOW._replace(tile=""),
        LEAVE,
    ),
    EVERYTHING,
)
