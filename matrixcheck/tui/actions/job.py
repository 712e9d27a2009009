"""What the keys do at a job, and those that hold anywhere."""

from __future__ import annotations

from matrixcheck.tui.action import ENTRY_STARTS, Action, Group, Place
from matrixcheck.tui.actions.shared import (
    ACTIONS,
    ANSWER_SHOWN,
    BAD,
    CHECKS_SHOWN,
    DROP_REFUSED,
    FAINT,
    FIND_ONE,
    FUNCTIONS_SHOWN,
    HELP,
    HISTORY_SHOWN,
    KEYPAD_TILE,
    LATER,
    LATER_LIST,
    MOVES,
    NOTE,
    PARTS_SHOWN,
    PUT_OFF,
    PUT_RIGHT,
    QUIT,
    REDO,
    REPAIR_KEPT,
    RETEST,
    SAFETY_SHOWN,
    STUCK,
    TAKE_UP,
    THEME,
    UNDO,
    WAITING_SHOWN,
)

ANYWHERE = Place("anywhere", "", (WAITING_SHOWN,))
"""Beside what each place has; shown where something waits."""

KEYPAD = Place(
    "keypad",
    "",
    (Action("keep", "Enter", "Enter", "keep_typed"), Action("keypad", "#", "back", "pad", own=True)),
)
"""Tiles beside the digits and signs of the keypad on a phone."""

JOB = Place(
    "job",
    "At the job",
    (
        Action("working", "Enter", "working", "mark('working')", group=Group.MOST),
        BAD._replace(does="mark('dead')"),
        STUCK._replace(does="mark('stuck')"),
        LATER._replace(does="later", says="put on the later list"),
        UNDO,
        Action("round", "g", "round", "round", "a round through this matrix"),
        Action("matrix", "Tab", "matrix", "matrix(1)", "next matrix"),
        Action("suspect", "s", "suspects", "suspect", "choose the next suspect", tile=""),
        LATER_LIST,
        RETEST,
        HELP._replace(group=Group.OFTEN, tile="more"),
        Action("decide", "d", "decide", "decide", "a round over the cells that would decide", Group.SELDOM),
        CHECKS_SHOWN,
        PARTS_SHOWN,
        REPAIR_KEPT,
        SAFETY_SHOWN,
        NOTE._replace(group=Group.SELDOM),
        HISTORY_SHOWN,
        ANSWER_SHOWN._replace(group=Group.LISTED),
        FIND_ONE,
        Action("bench", "b", "bench", "bench", "back to the bench", Group.SELDOM),
        QUIT,
        REDO,
        Action("accept", "i", "this glow is normal here, or no longer", "accept", group=Group.LISTED),
        PUT_RIGHT,
        FUNCTIONS_SHOWN,
        PUT_OFF,
        FAINT,
        TAKE_UP,
        DROP_REFUSED,
        ACTIONS,
        Action("previous_matrix", "Shift+Tab", "previous matrix", "matrix(-1)", group=Group.LISTED),
        THEME._replace(group=Group.LISTED),
        Action("let_go", "Esc", "let go of the suspect", "let_go", group=Group.LISTED),
        *MOVES,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)
