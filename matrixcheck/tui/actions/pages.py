"""What the keys do at the bench and on the pages beside the grid."""

from __future__ import annotations

from matrixcheck.tui.action import Action, Group, Place
from matrixcheck.tui.actions.shared import (
    ABOVE,
    ACTIONS,
    ANSWER_SHOWN,
    BACK,
    BAD,
    BELOW,
    CHECKS_SHOWN,
    DIFFERED,
    FIND_ONE,
    FUNCTIONS_SHOWN,
    HELP,
    HISTORY_SHOWN,
    LATER_LIST,
    NEW,
    NOTE,
    PARTS_SHOWN,
    PICK,
    PUT_OFF,
    PUT_RIGHT,
    QUIT,
    READ_ON,
    REDO,
    REPAIR_KEPT,
    SAFETY_SHOWN,
    THEME,
    UNDO,
    VALUE,
    shuts,
)

BENCH = Place(
    "bench",
    "At the bench",
    (
        Action("pick", "Enter", "open", "open", group=Group.MOST),
        NEW._replace(word="new job", does="new", says=""),
        FIND_ONE._replace(says="find a job as you type: name, serial number, owner, machine", group=Group.OFTEN),
        Action("visit_again", "v", "visit", "visit_again", "another visit of this machine"),
        PUT_RIGHT._replace(does="edit", says="put name, serial number and owner right", group=Group.OFTEN),
        Action("close_job", "F7", "close", "close", "close with a verdict, or reopen", Group.SELDOM),
        Action(
            "archive", "F8", "archive", "archive", "take off the list, or put back; nothing is deleted", Group.SELDOM
        ),
        Action("archived", "Tab", "archived", "archived", "show archived jobs too, or no longer", Group.SELDOM),
        HISTORY_SHOWN._replace(word="changes", does="compare", says="what changed since the visit before"),
        Action("initials", "F9", "initials", "initials", "who records here: your initials", Group.SELDOM),
        THEME,
        HELP,
        ACTIONS,
        QUIT,
        ABOVE._replace(group=Group.LISTED),
        BELOW._replace(group=Group.LISTED),
    ),
)

COMPARE = Place(
    "what changed",
    "",
    (
        ABOVE._replace(word="up", does="scroll(-1)", group=Group.MOST),
        BELOW._replace(word="down", does="scroll(1)", group=Group.MOST),
        READ_ON,
        BACK,
        ACTIONS,
        shuts(HISTORY_SHOWN),
    ),
)

ANSWER = Place(
    "answer",
    "The answer",
    (
        ABOVE._replace(word="up", does="scroll(-1)", group=Group.MOST),
        BELOW._replace(word="down", does="scroll(1)", group=Group.MOST),
        READ_ON._replace(group=Group.MOST),
        NOTE,
        HELP,
        BACK,
        shuts(ANSWER_SHOWN),
    ),
)

CHECKS = Place(
    "checks",
    "Checks and repairs",
    (
        Action("good", "Enter", "good", "found('good')", "found good", Group.MOST),
        BAD._replace(word="faulty", does="found('faulty')", says="found faulty"),
        REPAIR_KEPT._replace(says="repaired or replaced: what was done, what was fitted", group=Group.OFTEN),
        NOTE._replace(says="write a note on this place"),
        UNDO,
        REDO,
        ABOVE,
        BELOW,
        READ_ON,
        HELP,
        BACK,
        ACTIONS,
        shuts(CHECKS_SHOWN),
    ),
)
PARTS = CHECKS._replace(name="parts", actions=(*CHECKS.actions[:-1], shuts(PARTS_SHOWN)))

SAFETY = Place(
    "safety",
    "Before power",
    (
        Action("passed", "Enter", "passed", "passed", "checked, and in order", Group.MOST),
        BAD._replace(word="failed", does="failed", says="checked, and not in order"),
        VALUE,
        PUT_OFF._replace(word="waive", does="waive", says="let this check go, with a reason", group=Group.OFTEN),
        NEW._replace(word="own check", says="add a check of your own"),
        UNDO,
        REDO,
        ABOVE,
        BELOW,
        HELP,
        BACK,
        ACTIONS,
        shuts(SAFETY_SHOWN),
    ),
)

FUNCTIONS = Place(
    "functions",
    "The rest of the test mode",
    (
        Action("good", "Enter", "good", "verdict('good')", "tried, and good", Group.MOST),
        BAD._replace(word="faulty", does="fails('faulty')", says="tried, and faulty"),
        DIFFERED._replace(
            word="flickers",
            does="fails('comes and goes')",
            says="good and faulty by turns: it flickers, or comes and goes",
            group=Group.OFTEN,
        ),
        Action("not_fitted", "0", "not fitted", "verdict('not fitted')", "there is nothing of the kind here"),
        NEW._replace(word="own line", says="add what else is faulty to this list"),
        UNDO,
        REDO,
        ABOVE,
        BELOW,
        HELP,
        BACK,
        ACTIONS,
        shuts(FUNCTIONS_SHOWN),
    ),
)

LOG = Place(
    "log",
    "The history",
    (
        ABOVE._replace(word="up", group=Group.MOST),
        BELOW._replace(word="down", group=Group.MOST),
        READ_ON._replace(group=Group.MOST),
        Action("strike", "Bksp", "strike out", "strike", "strike this line out"),
        REDO._replace(says="have this line count again; else bring back what was undone last", group=Group.OFTEN),
        NOTE,
        UNDO,
        HELP,
        BACK,
        ACTIONS,
        shuts(HISTORY_SHOWN),
    ),
)

LATER_PAGE = Place(
    "later list",
    "The later list",
    (PICK._replace(word="round", says="a round through these"), ABOVE, BELOW, HELP, BACK, ACTIONS, shuts(LATER_LIST)),
)
