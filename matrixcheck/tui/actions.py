"""Everything that a key does on the screens: the one table of which bindings, key bars, help, a phone's tiles and the
list of actions are made.

An action has one name wherever it is met; a person may give that name another key (`keymap.py`). Nothing here needs
Textual: the configuration is checked against this table.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from matrixcheck.tui.action import ENTRY_STARTS, EVERYTHING, Action, Group, Place

HELP = Action("help", "?", "keys", "help")
UNDO = Action("undo", "u", "undo", "undo")
DIFFERED = Action("differed", "&", "both", "differed", "no slip: it behaved differently, so both count", Group.LISTED)
REDO = Action("redo", "y", "redo", "redo", "bring back what was undone last", Group.LISTED)
NOTE = Action("note", "w", "note", "note", "write a note")
READ_ON = Action("read_on", "Space", "read on", "read_on", "read on, at the end from the top")
DEAD = Action("dead", "-", "dead", "judge('-')")
STUCK = Action("stuck", "*", "stuck", "judge('*')")
LATER = Action("later", ".", "later", "judge('.')", also=(",",))
PUT_OFF = Action("put_off", "o", "later, with a reason", "put_off", group=Group.LISTED)
FAINT = Action("faint", "f", "another glows faintly", "faint", group=Group.LISTED)
LATER_LIST = Action("later_list", "l", "list", "list", "show the later list", Group.OFTEN)
RETEST = Action("retest", "e", "retest", "retest", "a walk through just what is due for a retest", Group.OFTEN)
THEME = Action("theme", "t", "light", "app.other_light", "light or dark")
QUIT = Action("quit", "q", "quit", "app.quit", group=Group.OFTEN)
KEYPAD_TILE = Action("keypad", "#", "pad", "pad", group=Group.TILE)
END = Action("leave", "Esc", "end", "leave")
LEAVE = Action("leave", "Esc", "leave", "leave")
BACK = Action("leave", "Esc", "back", "leave")
PICK = Action("pick", "Enter", "start", "pick")
ABOVE = Action("above", "↑", "above", "step(-1)")
BELOW = Action("below", "↓", "below", "step(1)")
MOVES = (
    Action("up", "↑", "up", "move(-1, 0)", group=Group.LISTED),
    Action("down", "↓", "down", "move(1, 0)", group=Group.LISTED),
    Action("left", "←", "left", "move(0, -1)", group=Group.LISTED),
    Action("right", "→", "right", "move(0, 1)", group=Group.LISTED),
)
"""The cursor of a grid."""

ANYWHERE = Place("anywhere", "", (Action("waiting", "F3", "not kept", "app.waiting", "what is not kept yet"),))
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
        Action("working", "Enter", "working", "mark('working')"),
        DEAD._replace(does="mark('dead')"),
        STUCK._replace(does="mark('stuck')"),
        LATER._replace(does="later", says="put on the later list"),
        UNDO,
        Action("round", "g", "round", "round", "a round through this matrix"),
        Action("suspect", "s", "suspects", "suspect", "choose the next suspect", Group.OFTEN),
        LATER_LIST,
        Action("matrix", "Tab", "matrix", "matrix(1)", "next matrix"),
        HELP._replace(group=Group.OFTEN),
        Action("decide", "d", "decide", "decide", "a round over the cells that would decide", Group.SELDOM),
        Action("checks", "k", "checks", "checks", "bench checks of the suspect", Group.SELDOM),
        Action("parts", "p", "parts", "parts", "what was found or repaired behind this cell", Group.SELDOM),
        Action("repair", "m", "repair", "repair", "keep a repair: of the suspect, or behind this cell", Group.SELDOM),
        RETEST,
        Action("safety", "a", "safety", "page('safety')", "the checks before power", Group.SELDOM),
        NOTE._replace(group=Group.SELDOM),
        Action("log", "h", "history", "page('log')", "what was recorded, newest first", Group.SELDOM),
        Action("find", "n", "find", "find", "find a cell by its name", Group.SELDOM),
        Action("bench", "b", "bench", "bench", "back to the bench", Group.SELDOM),
        QUIT,
        REDO,
        Action("accept", "i", "this glow is normal here, or no longer", "accept", group=Group.LISTED),
        Action("correct", "j", "the layout here, to put it right", "correct", group=Group.LISTED),
        Action("functions", "v", "displays, sound, flippers, play test", "functions", group=Group.LISTED),
        PUT_OFF,
        FAINT,
        Action("actions", "x", "all actions by name", "actions", group=Group.LISTED),
        Action("previous_matrix", "Shift+Tab", "previous matrix", "matrix(-1)", group=Group.LISTED),
        THEME._replace(word="light or dark", says="", group=Group.LISTED),
        Action("let_go", "Esc", "let go of the suspect", "let_go", group=Group.LISTED),
        *MOVES,
        LATER_LIST._replace(group=Group.TILE),
        RETEST._replace(group=Group.TILE),
        HELP._replace(word="more", group=Group.TILE),
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

KEEP = Action("keep", "Enter", "keep", "keep_typed", group=Group.OFTEN)
HOLD_THESE = Action("pick", "Enter", "start", "take_or_pick", "they are closed now", Group.OFTEN)

ROLL = Place(
    "roll",
    "Rolling",
    (
        KEEP,
        KEEP._replace(word="Enter", group=Group.TILE),
        UNDO._replace(key="Bksp", own=True, says="undo what was kept last"),
        Action("other_name", "Tab", "other name", "other", "take another of the names found", Group.SELDOM),
        Action("bell", "F2", "bell", "app.bell_on_off", "a bell for every number kept, or none", Group.SELDOM),
        HELP,
        END,
        REDO._replace(key="F5", own=True),
        DIFFERED,
        *MOVES,
    ),
    EVERYTHING - {"?", "&"},
)
HOLD = ROLL._replace(name="hold", title="Hold round")

WALK = Place(
    "walk",
    "Walking",
    (
        Action("working", "Enter", "works", "judge('')"),
        DEAD,
        STUCK,
        LATER,
        Action("one_back", "Bksp", "back", "go(-1)", "back to the one before", also=("←",)),
        Action("one_on", "→", "skip", "go(1)", "pass over without a mark"),
        UNDO,
        HELP,
        END,
        REDO,
        DIFFERED,
        PUT_OFF,
        FAINT,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

TIMED_WALK = Place(
    "timed walk",
    "The timed walk",
    (
        Action("step", "Enter", "step", "tap", "the machine steps just now"),
        DEAD,
        STUCK,
        LATER,
        Action("pause", "p", "pause", "pause", "stop, or go on"),
        Action("one_back", "←", "back", "go(-1)", "the machine is one back", also=("Bksp",)),
        Action("one_on", "→", "on", "go(1)", "the machine is one on"),
        Action("earlier", "<", "earlier", "earlier", "that was the device before", Group.OFTEN),
        UNDO,
        HELP,
        END,
        REDO,
        DIFFERED,
        PUT_OFF,
        FAINT,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

ALL_LIT = Place(
    "all at once",
    "All at once",
    (
        Action("rest_lit", "Enter", "rest lit", "rest", "all others are lit"),
        Action("dark", "-", "dark", "turn", "this one is dark, or lit after all"),
        UNDO,
        HELP,
        END,
        REDO,
        DIFFERED,
        *MOVES,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

REST = Place(
    "rest scan",
    "Rest scan",
    (
        Action("keep", "Enter", "keep", "keep", "nothing else shows: keep the scan"),
        Action("nothing", "z", "none", "nothing", "nothing shows at all: keep that"),
        Action("tick", "Space", "tick", "tick", "tick it, or take the tick away"),
        Action("meant", "m", "due", "meant", "tick all that should be closed"),
        HELP,
        END,
        *MOVES,
        KEYPAD_TILE,
    ),
    ENTRY_STARTS,
)

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

EDIT_JOB = Place(
    "edit a job",
    "",
    (
        Action("keep", "Enter", "keep", "keep"),
        Action("below", "↓", "below", "onward(1)"),
        Action("above", "↑", "above", "onward(-1)"),
        LEAVE,
    ),
    EVERYTHING,
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

REPAIR = Place(
    "repair",
    "Keep a repair",
    (
        Action("keep", "Enter", "keep", "keep"),
        Action("other_name", "Tab", "other place", "other", "take another of the places at hand"),
        Action("outside", "F4", "outside", "outside", "it is no part of the layout, as a belt or a flipper link"),
        Action("below", "↓", "below", "onward(1)"),
        Action("above", "↑", "above", "onward(-1)"),
        LEAVE,
    ),
    EVERYTHING,
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

CHOOSE_ROUND = Place("choose a round", "", (PICK, ABOVE, BELOW, LEAVE))

CHOOSE_HOLD = Place(
    "choose what to hold",
    "",
    (
        HOLD_THESE,
        HOLD_THESE._replace(word="Enter", group=Group.TILE),
        ABOVE._replace(group=Group.OFTEN),
        BELOW._replace(group=Group.OFTEN),
        LEAVE,
    ),
    EVERYTHING,
)

FIND = Place("find", "", (PICK._replace(word="take"), ABOVE, BELOW, LEAVE), EVERYTHING)

WORDS = Place("words", "", (Action("keep", "Enter", "keep", "keep"), ABOVE, BELOW, LEAVE), EVERYTHING)

ASK = Place(
    "question",
    "",
    (Action("yes", "Enter", "yes", "answer(True)"), Action("no", "Esc", "no", "answer(False)")),
)

STOP = Place(
    "stop",
    "",
    (
        Action("fuse_out", "f", "fuse is out", "fuse_out", "the power is off and the coil fuse is out"),
        UNDO._replace(says="that coil was a slip: undo it"),
        BACK,
    ),
)

WAITING = Place(
    "not kept",
    "",
    (
        Action("again", "Enter", "try now", "again"),
        Action("drop", "-", "drop last", "drop", "drop the entry made last: it is never kept"),
        Action("elsewhere", "e", "keep elsewhere", "elsewhere", "keep the job, and what waits, in another book file"),
        BACK._replace(also=("F3",)),
    ),
)

NEW_JOB = Place(
    "new job",
    "",
    (
        Action("next", "Enter", "next", "start", "next line; after the last, start"),
        Action("below", "↓", "below", "onward(1)"),
        Action("above", "↑", "above", "onward(-1)"),
        LEAVE,
    ),
    EVERYTHING,
)

CORRECT = Place(
    "put right",
    "",
    (
        Action("keep", "Enter", "keep", "keep"),
        Action("other_sheet", "Tab", "cell, line", "sheet(1)", "the cell, its column, its row"),
        Action("below", "↓", "below", "onward(1)"),
        Action("above", "↑", "above", "onward(-1)"),
        LEAVE,
        Action("previous_sheet", "Shift+Tab", "the one before", "sheet(-1)", group=Group.LISTED),
    ),
    EVERYTHING,
)

HELP_PAGE = Place(
    "help",
    "",
    (
        Action("leave", "Esc", "close", "dismiss", also=("?", "Enter", "Space", "q")),
        Action("above", "↑", "up", "scroll(-1)", group=Group.LISTED),
        Action("below", "↓", "down", "scroll(1)", group=Group.LISTED),
    ),
)

PLACES: Mapping[str, Place] = MappingProxyType(
    {
        place.name: place
        for place in (
            *(
                JOB,
                ROLL,
                HOLD,
                WALK,
                TIMED_WALK,
                ALL_LIT,
                REST,
                BENCH,
                EDIT_JOB,
                COMPARE,
                CHECKS,
                REPAIR,
                SAFETY,
                FUNCTIONS,
            ),
            *(LOG, LATER_PAGE),
            *(CHOOSE_ROUND, CHOOSE_HOLD, FIND, WORDS, ASK, STOP, WAITING, NEW_JOB, CORRECT, HELP_PAGE),
        )
    }
)
"""All places by name."""
