"""Actions that are met at several places: one name, one key and one meaning at all of them."""

from __future__ import annotations

from matrixcheck.tui.action import Action, Group

HELP = Action("help", "?", "keys", "help")
UNDO = Action("undo", "u", "undo", "undo")
DIFFERED = Action("differed", "&", "both", "differed", "no slip: it behaved differently, so both count", Group.LISTED)
REDO = Action("redo", "y", "redo", "redo", "bring back what was undone last", Group.LISTED)
TAKE_UP = Action("take_up", "F6", "take up", "take_up", "take up again what was refused first", Group.LISTED)
DROP_REFUSED = Action("drop_refused", "Del", "drop", "drop_refused", "drop what was refused first", Group.LISTED)
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
