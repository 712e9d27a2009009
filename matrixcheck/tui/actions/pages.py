"""What the keys do at the bench and on the pages beside the grid."""

from __future__ import annotations

from matrixcheck.tui.action import Action, Group, Place
from matrixcheck.tui.actions.shared import ABOVE, BACK, BELOW, DEAD, HELP, NOTE, PICK, QUIT, READ_ON, REDO, THEME, UNDO

BENCH = Place(
    "bench",
    "At the bench",
    (
        Action("pick", "Enter", "open", "open"),
        Action("new_job", "n", "new job", "new"),
        Action("find_job", "f", "find", "find", "find a job as you type: name, serial number, owner, machine"),
        HELP,
        Action("edit_job", "e", "edit", "edit", "put name, serial number and owner right", Group.SELDOM),
        Action("close_job", "c", "close", "close", "close with a verdict, or reopen", Group.SELDOM),
        Action(
            "archive", "z", "archive", "archive", "take off the list, or put back; nothing is deleted", Group.SELDOM
        ),
        Action("archived", "a", "archived", "archived", "show archived jobs too, or no longer", Group.SELDOM),
        Action("visit_again", "v", "visit", "visit_again", "another visit of this machine", Group.SELDOM),
        Action("compare", "d", "changes", "compare", "what changed since the visit before", Group.SELDOM),
        Action("initials", "i", "initials", "initials", "who records here: your initials", Group.SELDOM),
        THEME._replace(group=Group.SELDOM),
        QUIT,
        ABOVE._replace(group=Group.LISTED),
        BELOW._replace(group=Group.LISTED),
    ),
)

COMPARE = Place(
    "what changed",
    "",
    (
        Action("above", "↑", "up", "scroll(-1)"),
        Action("below", "↓", "down", "scroll(1)"),
        READ_ON,
        BACK._replace(also=("d",)),
    ),
)

CHECKS = Place(
    "checks",
    "Checks and repairs",
    (
        Action("good", "g", "good", "found('good')", "found good"),
        Action("faulty", "x", "faulty", "found('faulty')", "found faulty"),
        Action("replaced", "r", "repaired", "repair", "repaired or replaced: what was done, what was fitted"),
        NOTE._replace(says="write a note on this place"),
        UNDO,
        REDO,
        ABOVE,
        BELOW,
        READ_ON,
        HELP,
        BACK._replace(also=("k", "p")),
    ),
)

SAFETY = Place(
    "safety",
    "Before power",
    (
        Action("passed", "Enter", "passed", "passed", "checked, and in order"),
        Action("failed", "-", "failed", "failed", "checked, and not in order"),
        Action("measured", "=", "value", "measure", "type what the meter shows; a figure begins it as well"),
        Action("waived", "w", "waive", "waive", "let this check go, with a reason"),
        Action("own_check", "n", "own check", "own", "add a check of your own"),
        UNDO,
        REDO,
        ABOVE,
        BELOW,
        HELP,
        BACK._replace(also=("a",)),
    ),
)

FUNCTIONS = Place(
    "functions",
    "The rest of the test mode",
    (
        Action("good", "Enter", "good", "verdict('good')", "tried, and good", own=True),
        DEAD._replace(word="faulty", does="fails('faulty')", says="tried, and faulty", also=()),
        Action("flickers", "f", "flickers", "fails('comes and goes')", "it flickers, or comes and goes"),
        Action("not_fitted", "0", "not fitted", "verdict('not fitted')", "there is nothing of the kind here"),
        Action("own_check", "n", "own line", "own", "add what else is faulty to this list"),
        UNDO,
        REDO,
        ABOVE,
        BELOW,
        HELP,
        BACK._replace(also=("v",)),
    ),
)

LOG = Place(
    "log",
    "The history",
    (
        Action("strike", "-", "strike out", "strike", "strike this line out, or have it count again"),
        NOTE,
        UNDO,
        REDO,
        ABOVE._replace(word="up"),
        BELOW._replace(word="down"),
        READ_ON,
        HELP,
        BACK._replace(also=("h",)),
    ),
)

LATER_PAGE = Place(
    "later list",
    "The later list",
    (PICK._replace(word="round", says="a round through these"), ABOVE, BELOW, HELP, BACK._replace(also=("l",))),
)
