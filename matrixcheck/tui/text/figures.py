"""Numbers and a few words in signs three characters wide and three lines high, to be read at arm's length."""

from __future__ import annotations

from matrixcheck.layout.numbering import Number
from matrixcheck.report.words import lines_of
from matrixcheck.tui.text.spans import Row, row

WIDTH = 3
"""Characters that each sign is wide."""
_SHAPES = {
    "0": "┏━┓┃ ┃┗━┛",
    "1": "╺┓  ┃ ╺┻╸",
    "2": "╺━┓┏━┛┗━╸",
    "3": "╺━┓ ━┫╺━┛",
    "4": "╻ ╻┗━┫  ╹",
    "5": "┏━╸┗━┓╺━┛",
    "6": "┏━╸┣━┓┗━┛",
    "7": "╺━┓  ┃  ╹",
    "8": "┏━┓┣━┫┗━┛",
    "9": "┏━┓┗━┫╺━┛",
    " ": "         ",
    "-": "   ╺━╸   ",
    "A": "┏━┓┣━┫╹ ╹",
    "B": "┏┓ ┣┻┓┗━┛",
    "C": "┏━╸┃  ┗━╸",
    "D": "┳━┓┃ ┃┻━┛",
    "E": "┏━╸┣━ ┗━╸",
    "F": "┏━╸┣━ ╹  ",
    "G": "┏━╸┃╺┓┗━┛",
    "H": "╻ ╻┣━┫╹ ╹",
    "I": "╺┳╸ ┃ ╺┻╸",
    "J": " ╺┓  ┃┗━┛",
    "K": "╻┏╸┣┫ ╹┗╸",
    "L": "╻  ┃  ┗━╸",
    "M": "┏┳┓┃╹┃╹ ╹",
    "N": "┏┓╻┃┃┃╹┗┛",
    "O": "╭━╮┃ ┃╰━╯",
    "P": "┏━┓┣━┛╹  ",
    "Q": "┏━┓┃ ┃┗━╋",
    "R": "┏━┓┣┳┛╹┗╸",
    "S": "╭━╸╰━╮╺━╯",
    "T": "╺┳╸ ┃  ╹ ",
    "U": "╻ ╻┃ ┃┗━┛",
    "V": "╻ ╻┃┏┛┗┛ ",
    "W": "╻ ╻┃╻┃┗┻┛",
    "X": "╻ ╻┗╋┓╹ ╹",
    "Y": "╻ ╻┗┳┛ ╹ ",
    "Z": "╺━╮╭━╯╰━╸",
}
"""The three lines of each sign, one behind the other. Letters that look like digits have round corners."""


def figures(number: Number) -> tuple[str, str, str]:
    """Draw a number: its upper, middle and lower line, each three characters a sign."""
    shapes = [_SHAPES[sign] for sign in str(number)]
    upper, middle, lower = ("".join(shape[start : start + WIDTH] for shape in shapes) for start in (0, 3, 6))
    return upper, middle, lower


def large_words(text: str, width: int) -> tuple[Row, ...]:
    """Draw words in capitals, broken at blanks into lines of at most `width` characters; loud."""
    lines = lines_of(text.upper(), max(width // WIDTH, 1), "", "")
    return tuple(row(line, "alert") for words in lines for line in figures(words))
