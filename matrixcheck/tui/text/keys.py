"""The keys of a screen, laid out as a bar of things to press or tap."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import NamedTuple

from matrixcheck.tui.text.spans import Row, Span, clipped

GAP = 2
RULE = "│ "
"""Stands before a group of a bar, on a new line as well. Groups of buttons may have a line between them instead."""
TALL = 2
NARROWEST = 6
WIDEST = 13
TAKE_BACK = "⌫"
KEYPAD_ROW = 5
"""Keys in a row of a keypad at any width, so that the digits stand as on any other."""


class Cap(NamedTuple):
    """One key: how it is written, what it does in a word or two, the action behind it, and what the help says of it.

    `rank` counts the groups of a bar, from what is needed most.
    """

    key: str
    word: str
    action: str
    says: str = ""
    rank: int = 0

    @property
    def meaning(self) -> str:
        """Return what it does, in as many words as that takes."""
        return self.says or self.word

    @property
    def types(self) -> bool:
        """Return whether it types a sign; a bar that begins with such a key is a keypad."""
        return self.action.startswith("type(")

    @property
    def width(self) -> int:
        """Return how many characters it takes in a bar."""
        return len(self.key) + 1 + len(self.word)


class Placed(NamedTuple):
    """A cap with its place: `left` and `right` (past the end) on the lines from `top`, `height` of them.

    `begins` where another group begins with it, before which a rule is drawn.
    """

    cap: Cap
    left: int
    right: int
    top: int
    height: int
    begins: bool = False

    def holds(self, x: int, y: int) -> bool:
        """Return whether a tap at (x, y) means this key."""
        return self.left <= x < self.right and self.top <= y < self.top + self.height


def pad(signs: Iterable[str]) -> tuple[Cap, ...]:
    """Return keys that type a sign each, for the action `type`; `TAKE_BACK` stands for taking one back."""
    return tuple(Cap("", "space" if sign == " " else sign, f"type('{sign}')") for sign in signs)


def without_keys(caps: Iterable[Cap]) -> tuple[Cap, ...]:
    """Return the caps as tiles of a keypad, which say only what they do, and are of its one group."""
    return tuple(cap._replace(key="", rank=0) for cap in caps)


def filled(caps: Sequence[Cap], wanted: Collection[str], width: int) -> tuple[Cap, ...]:
    """Return the caps of the wanted keys, and as many of the others as their lines have room for, in their order."""
    chosen = {cap.key for cap in caps if cap.key in wanted}
    lines = _lines_of([cap for cap in caps if cap.key in chosen], width)
    for cap in caps:
        more = chosen | {cap.key}
        if _lines_of([one for one in caps if one.key in more], width) == lines:
            chosen = more
    return tuple(cap for cap in caps if cap.key in chosen)


def placed(caps: Sequence[Cap], width: int, tall: bool = False) -> tuple[Placed, ...]:
    """Return where each cap goes in a bar of that width. `tall` makes equal buttons, for fingers."""
    return _buttons(caps, width) if tall else _running(caps, width)


def key_rows(places: Sequence[Placed]) -> tuple[Row, ...]:
    """Return the bar as lines."""
    count = max((place.top + place.height for place in places), default=0)
    lines: list[list[Span]] = [[] for _ in range(count)]
    ends = [0] * count
    for place in places:
        room = place.right - place.left
        if place.begins and place.height > 1 and not place.left:
            lines[place.top - 1].append(("─" * max(one.right for one in places), "quiet"))
        for line in range(place.top, place.top + place.height):
            lines[line] += _before(place, place.left - ends[line])
            ends[line] = place.right
        if place.height == 1:
            lines[place.top] += [(place.cap.key, "key"), (f" {place.cap.word}", "quiet")]
        else:
            lines[place.top].append((clipped(place.cap.word, room).center(room), "button"))
            lines[place.top + 1].append((clipped(place.cap.key, room).center(room), "button-key"))
    return tuple(tuple(line) for line in lines)


def _before(place: Placed, room: int) -> Row:
    """Return what stands before a cap: blanks, or the rule where another group begins, if there is room for it."""
    rule = RULE[:room] if place.height == 1 else RULE[0]
    if not (place.begins and room >= len(rule)) or not room:
        return ((" " * room, "plain"),)
    return ((" " * (room - len(rule)), "plain"), (rule, "quiet"))


def _lines_of(caps: Sequence[Cap], width: int) -> int:
    return max((place.top + place.height for place in _running(caps, width)), default=0)


def _running(caps: Sequence[Cap], width: int) -> tuple[Placed, ...]:
    places: list[Placed] = []
    x = y = 0
    for cap in caps:
        begins = bool(places) and cap.rank != places[-1].cap.rank
        x += 1 if begins else 0
        if x and x + cap.width > width:
            x, y = len(RULE) if begins else 0, y + 1
        places.append(Placed(cap, x, x + cap.width, y, 1, begins))
        x += cap.width + GAP
    return tuple(places)


def _buttons(caps: Sequence[Cap], width: int) -> tuple[Placed, ...]:
    longest = max((len(cap.word) for cap in caps), default=0)
    if caps and caps[0].types:
        return _in_rows(caps, KEYPAD_ROW, width)
    per_row = max(min((width + 1) // min(max(longest + 1, NARROWEST), WIDEST), len(caps)), 1)
    rows = -(-len(caps) // per_row)
    return _in_rows(caps, -(-len(caps) // rows) if rows else 1, width)


def _in_rows(caps: Sequence[Cap], per_row: int, width: int) -> tuple[Placed, ...]:
    pitch = (width + 1) // per_row
    return tuple(
        Placed(
            cap,
            (i % per_row) * pitch,
            (i % per_row) * pitch + pitch - 1,
            i // per_row * (TALL + 1),
            TALL,
            i > 0 and cap.rank != caps[i - 1].rank,
        )
        for i, cap in enumerate(caps)
    )
