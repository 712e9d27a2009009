"""What the keys do in forms, questions and other sheets."""

from __future__ import annotations

from matrixcheck.tui.action import EVERYTHING, Action, Group, Place
from matrixcheck.tui.actions.shared import ABOVE, BACK, BELOW, HELP, LEAVE, PICK, REDO, UNDO, WAITING_SHOWN, shuts

LINES = (Action("below", "↓", "below", "onward(1)"), Action("above", "↑", "above", "onward(-1)"))
"""The lines of a form."""

EDIT_JOB = Place(
    "edit a job",
    "",
    (
        Action("keep", "Enter", "keep", "keep", group=Group.MOST),
        *LINES,
        LEAVE,
    ),
    EVERYTHING,
)

REPAIR = Place(
    "repair",
    "Keep a repair",
    (
        Action("keep", "Enter", "keep", "keep", group=Group.MOST),
        Action("other_name", "Tab", "other place", "other", "take another of the places at hand"),
        Action("outside", "F4", "outside", "outside", "it is no part of the layout, as a belt or a flipper link"),
        *LINES,
        LEAVE,
    ),
    EVERYTHING,
)

IMPORT_CHART = Place(
    "a chart",
    "",
    (
        Action("next", "Enter", "next", "next", "read the chart; on the last line, write the layout", Group.MOST),
        *LINES,
        LEAVE,
    ),
    EVERYTHING,
)

FIND = Place("find", "", (PICK._replace(word="take"), ABOVE, BELOW, LEAVE), EVERYTHING)
WORDS = Place("words", "", (Action("keep", "Enter", "keep", "keep", group=Group.MOST), ABOVE, BELOW, LEAVE), EVERYTHING)
ASK = Place(
    "question",
    "",
    (Action("yes", "Enter", "yes", "answer(True)", group=Group.MOST), Action("no", "Esc", "no", "answer(False)")),
)

STOP = Place(
    "stop",
    "",
    (
        Action("fuse_out", "!", "fuse is out", "fuse_out", "the power is off and the coil fuse is out", Group.MOST),
        UNDO._replace(says="that coil was a slip: undo it"),
        REDO,
        BACK,
    ),
)

WAITING = Place(
    "not kept",
    "",
    (
        Action("again", "Enter", "try now", "again", group=Group.MOST),
        Action("drop", "Bksp", "drop last", "drop", "drop the entry made last: it is never kept"),
        Action("elsewhere", "Tab", "keep elsewhere", "elsewhere", "keep the job, and what waits, in another book file"),
        BACK,
        shuts(WAITING_SHOWN),
    ),
)

NEW_JOB = Place(
    "new job",
    "",
    (
        Action("next", "Enter", "next", "next", "next line; after the last, start", Group.MOST),
        *LINES,
        LEAVE,
    ),
    EVERYTHING,
)

CORRECT = Place(
    "put right",
    "",
    (
        Action("keep", "Enter", "keep", "keep", group=Group.MOST),
        Action("other_sheet", "Tab", "cell, line", "sheet(1)", "the cell, its column, its row"),
        *LINES,
        LEAVE,
        Action("previous_sheet", "Shift+Tab", "the one before", "sheet(-1)", group=Group.LISTED),
    ),
    EVERYTHING,
)

HELP_PAGE = Place(
    "help",
    "",
    (
        LEAVE._replace(word="close", does="dismiss", also=("Enter", "Space")),
        HELP._replace(does="dismiss", group=Group.UNSEEN),
        Action("above", "↑", "up", "scroll(-1)", group=Group.LISTED),
        Action("below", "↓", "down", "scroll(1)", group=Group.LISTED),
    ),
)
