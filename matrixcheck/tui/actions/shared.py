"""Actions that are met at several places: one name, one key and one meaning at all of them.

A letter or sign has one meaning over all places, and a meaning one letter or sign. Signs mean there what they mean in
an entry: `-` is bad, `=` a value. So `c` and `r`, which begin a column and a row, are no keys anywhere. Enter, Esc,
Space, Tab, arrows and digits go with the place; Bksp only takes back.
"""

from __future__ import annotations

from matrixcheck.tui.action import Action, Group

HELP = Action("help", "?", "keys", "help", group=Group.SELDOM, tile="keys")
UNDO = Action("undo", "u", "undo", "undo")
UNDO_BY_BKSP = UNDO._replace(key="Bksp", own=True, says="undo what was kept last", group=Group.UNSEEN)
DIFFERED = Action("differed", "&", "both", "differed", "no slip: it behaved differently, so both count", Group.LISTED)
REDO = Action("redo", "y", "redo", "redo", "bring back what was undone last", Group.LISTED)
TAKE_UP = Action("take_up", "F6", "take up", "take_up", "take up again what was refused first", Group.LISTED)
DROP_REFUSED = Action("drop_refused", "Del", "drop", "drop_refused", "drop what was refused first", Group.LISTED)
NOTE = Action("note", "w", "note", "note", "write a note")
READ_ON = Action("read_on", "Space", "read on", "read_on", "read on, at the end from the top")
BAD = Action("bad", "-", "dead", "judge('-')", group=Group.MOST)
STUCK = Action("stuck", "*", "stuck", "judge('*')", group=Group.MOST)
LATER = Action("later", ".", "later", "judge('.')", group=Group.MOST, also=(",",))
"""A keypad types its decimal key as one or the other."""
PUT_OFF = Action("put_off", "o", "later, with a reason", "put_off", group=Group.LISTED)
FAINT = Action("faint", "~", "another glows faintly", "faint", group=Group.LISTED)
LATER_LIST = Action("later_list", "l", "list", "list", "show the later list", Group.OFTEN)
RETEST = Action("retest", "e", "retest", "retest", "a walk through just what is due for a retest", Group.OFTEN)
CHECKS_SHOWN = Action("checks", "k", "checks", "checks", "bench checks of the suspect", Group.SELDOM)
PARTS_SHOWN = Action("parts", "p", "parts", "parts", "what was found or repaired behind this cell", Group.SELDOM)
SAFETY_SHOWN = Action("safety", "a", "safety", "page('safety')", "the checks before power", Group.SELDOM)
HISTORY_SHOWN = Action("history", "h", "history", "page('log')", "what was recorded, newest first", Group.SELDOM)
ANSWER_SHOWN = Action(
    "answer", "PgDn", "answer", "page('answer')", "the answer in full, and the last round", Group.SELDOM
)
FUNCTIONS_SHOWN = Action(
    "functions", "t", "the rest of the test mode", "functions", "displays, sound, flippers, play test", Group.LISTED
)
REPAIR_KEPT = Action(
    "repair", "m", "repair", "repair", "keep a repair: of the suspect, or behind this cell", Group.SELDOM
)
PUT_RIGHT = Action("correct", "j", "put right", "correct", "the layout here, to put it right", Group.LISTED)
FIND_ONE = Action("find", "f", "find", "find", "find a cell by its name", Group.SELDOM)
NEW = Action("new", "n", "new", "own", "add one of your own")
VALUE = Action("measured", "=", "value", "measure", "type what the meter shows; a figure begins it as well", Group.MOST)
WAITING_SHOWN = Action("waiting", "F3", "not kept", "app.waiting", "what is not kept yet", Group.SELDOM)
ACTIONS = Action("actions", "x", "all actions by name", "actions", group=Group.LISTED)
THEME = Action("theme", "F12", "theme", "app.other_theme", "the next theme: dark, light, high contrast", Group.SELDOM)
QUIT = Action("quit", "q", "quit", "app.quit", group=Group.SELDOM)
KEYPAD_TILE = Action("keypad", "#", "pad", "pad", group=Group.TILE)
LEAVE = Action("leave", "Esc", "leave", "leave", group=Group.SELDOM, tile="leave")
END = LEAVE._replace(word="end", tile="end")
BACK = LEAVE._replace(word="back", tile="back")
PICK = Action("pick", "Enter", "start", "pick", group=Group.MOST)
ABOVE = Action("above", "↑", "above", "step(-1)")
BELOW = Action("below", "↓", "below", "step(1)")
MOVES = (
    Action("up", "↑", "up", "move(-1, 0)", group=Group.LISTED),
    Action("down", "↓", "down", "move(1, 0)", group=Group.LISTED),
    Action("left", "←", "left", "move(0, -1)", group=Group.LISTED),
    Action("right", "→", "right", "move(0, 1)", group=Group.LISTED),
)
"""The cursor of a grid."""


def shuts(opens: Action) -> Action:
    """Return the action that leaves a page by the key that opened it."""
    return opens._replace(word="back", does="leave", says="", group=Group.UNSEEN, also=())
