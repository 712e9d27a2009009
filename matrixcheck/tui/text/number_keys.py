"""Typing numbers with letters: which keys begin one, what a keypad on the screen shows, what is said meanwhile.

Letters are commands on most screens. In a matrix whose numbers begin with letters these letters begin a number instead,
so that what the chart prints can be typed as it stands. The command is then that letter and Enter: nothing happens
before Enter, and the line says what Enter will do.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from matrixcheck.layout.limits import LONGEST_NUMBER
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.wording import short_words
from matrixcheck.tui.text.keys import TAKE_BACK, Cap, pad

SIGNS = "+/=-*."
_ENTRY = re.compile(r"(?P<number>[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*)(?:[-*.]|[+/=].*)?")
FEW = 10
"""So many letters go on the keypad beside the digits; more take its place when they are asked for."""
NAMED = 3
"""So many numbers are named that go on as typed."""


def speaks_on(text: str) -> bool:
    """Return whether an entry begins with a sign, and so speaks of the cell at hand.

    It doesn't where a number would come of both.
    """
    return bool(text) and text[0] in SIGNS and not (text[0] == "-" and text[1:2].isalnum())


def is_command(text: str, matrix: Matrix) -> bool:
    """Return whether a typed text is a letter that begins numbers of the matrix, but is none itself."""
    return text.lower() in matrix.first_letters and text.upper() not in matrix.by_number


def pressed(key: str, matrix: Matrix) -> str:
    """Write a key as it is pressed in a matrix: with Enter where it begins numbers, empty where it is one itself."""
    if key.lower() not in matrix.first_letters:
        return key
    return f"{key} Enter" if is_command(key, matrix) else ""


def with_enter(caps: Iterable[Cap], matrix: Matrix) -> tuple[Cap, ...]:
    """Write the keys as they are pressed in a matrix."""
    return tuple(cap._replace(key=pressed(cap.key, matrix)) for cap in caps)


def keypad(signs: Sequence[str], matrix: Matrix, turned: bool = False) -> tuple[Cap, ...]:
    """Lay out keys that type these signs, and the letters that numbers of the matrix hold.

    Where there are many letters, the last key turns from digits to letters and back; `turned` shows the letters.
    """
    if turned and len(matrix.letters) > FEW:
        return (*pad((*matrix.letters, "-", TAKE_BACK)), Cap("", "123", "turn_pad"))
    return (*pad(signs), *letter_keys(matrix))


def letter_keys(matrix: Matrix) -> tuple[Cap, ...]:
    """Lay out the letters to put beside the digits of a keypad: each, or a key that turns to them."""
    return pad(matrix.letters) if len(matrix.letters) <= FEW else (Cap("", "ABC", "turn_pad"),)


def goes_on(text: str, matrix: Matrix) -> str:
    """Name the numbers with letters that go on as the last word is typed; nothing where there are none."""
    word = text.rsplit(maxsplit=1)[-1].upper() if text.strip() and not text[-1:].isspace() else ""
    found = [cell for cell in matrix.fitted if word and str(cell.number).startswith(word) and cell.number != word]
    named = [short_words(cell) for cell in found if isinstance(cell.number, str)]
    more = f" and {len(named) - NAMED} more" if len(named) > NAMED else ""
    return f"{', '.join(named[:NAMED])}{more}"


def means_numbers(text: str, matrix: Matrix) -> bool:
    """Return whether every word is meant as an entry rather than a name, right or wrong, so that a slip marks nothing.

    What stands before its sign then has a digit, or is no longer than the longest number of letters alone. Never in a
    matrix of plain numbers.
    """
    if not matrix.letters:
        return False
    longest = max((len(str(cell.number)) for cell in matrix.fitted if str(cell.number).isalpha()), default=0)
    return all(_means_number(word, longest) for word in text.split())


def _means_number(word: str, longest: int) -> bool:
    found = _ENTRY.fullmatch(word)
    if found is None or len(found["number"]) > LONGEST_NUMBER:
        return False
    return len(found["number"]) <= longest or any(map(str.isdecimal, found["number"]))
