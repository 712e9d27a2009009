"""A screen's keys in lines, and the signs of the grid."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.model import Matrix
from matrixcheck.layout.reading import Mark
from matrixcheck.report.glyphs import DEFERRED, ECHOED, FAINT, GLYPHS, INSTEAD, INTERMITTENT, NORMAL, RETEST_DUE
from matrixcheck.tui.text.keys import Cap
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.text.tabs import OPEN
from matrixcheck.tui.text.tile import Light

SIGNS = (
    (ECHOED, "another answered too"),
    (INSTEAD, "another answered instead"),
    (FAINT, "glowed faintly"),
    (NORMAL, "glows at rest, normal here"),
    (INTERMITTENT, "comes and goes"),
    (RETEST_DUE, "test again after a repair"),
    (DEFERRED, "on the later list"),
    (OPEN, "a round is open, on a tab"),
)
LIGHTS = (
    (Light.EXPLAINED, "the chosen suspect explains it"),
    (Light.CONTRADICTS, "speaks against the suspect"),
    (Light.UNTESTED, "would tell more about it"),
    (Light.TICKED, "ticked in a rest scan"),
)
ENTRY = (
    ("24", "working"),
    ("24-", "dead"),
    ("24*", "stuck"),
    ("24.", "later"),
    ("24+31", "31 answered too"),
    ("24/31", "31 answered instead"),
    ("24=4.1", "ohms measured"),
    ("24+-", "flickers, comes and goes"),
    ("c3-", "a whole column; r2 a row"),
)

NOTE_WIDTH = 30
"""Characters of a note's lines: as many as a phone has room for."""


def key_help(caps: Sequence[Cap], width: int) -> tuple[tuple[Row, ...], ...]:
    """Return each key with what it does, in lines of at most `width` characters."""
    wide = max((len(cap.key) for cap in caps), default=0)
    indent = " " * (wide + 2)
    blocks: list[tuple[Row, ...]] = []
    for cap in caps:
        first, *others = wrapped(cap.meaning, width, indent=indent)
        head: Row = ((f"{cap.key:>{wide}}", "key"), (first[0][0][wide:], "plain"))
        blocks.append((head, *others))
    return tuple(blocks)


def entry_rows() -> tuple[Row, ...]:
    """Return how entries are written."""
    return (
        row("Typed, then Enter", "title"),
        *(((f"{text:>7}", "key"), (f"  {says}", "plain")) for text, says in ENTRY),
    )


def letter_rows(matrix: Matrix) -> tuple[Row, ...]:
    """Return how numbers are typed that begin with letters; nothing where none does."""
    if not matrix.first_letters:
        return ()
    begin = [str(cell.number) for cell in matrix.fitted if str(cell.number)[0].isalpha()]
    example = next((number for number in begin if len(number) > 1), begin[0])
    return (
        row("Numbers with letters", "title"),
        *wrapped(
            f"{example} is typed as it stands, in capital or small letters. A letter that begins a "
            "number waits for the rest; with Enter alone it does what the list of keys says.",
            NOTE_WIDTH,
        ),
    )


def sign_rows() -> tuple[Row, ...]:
    """Return what stands on the grid."""
    marks: list[Row] = [((f" {GLYPHS[mark]} ", mark.value), (f"  {mark}", "plain")) for mark in Mark]
    signs: list[Row] = [((f" {sign} ", "strong"), (f"  {says}", "plain")) for sign, says in SIGNS]
    lit: list[Row] = [((f" {light.value} ", "lit"), (f"  {says}", "plain")) for light, says in LIGHTS]
    return (row("On the grid", "title"), *marks, *signs, *lit)
