"""Mistakes that people make in layout files: each is an error or a warning, on its line, with what was meant.

Which mistakes are typical is common practice, no source.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

import pytest

from matrixcheck.cli.main import main
from matrixcheck.layout.files import look_over, shipped

SOUND = """\
format = 1
name = "Invented test bed"

part = [
  {ref = "F1", name = "sensing fuse", rating = "1 A T"},
  {ref = "F9", name = "coil fuse, side A"},
  {ref = "F10", name = "coil fuse, side B"},
  {ref = "K1", name = "side relay"},
]

[[matrix]]
id = "switches"
kind = "switch"
numbering = "column-then-row"
strobe = "column"
supply = ["F1"]
cells = [
  ["left outlane", "tram stop 1", "gull nest"],
  ["left inlane", "tram stop 2", ""],
  ["right inlane", "tram stop 3", "gull beam"],
]

  [[matrix.column]]
  label = "1"
  wire = "GN/BN"
  path = ["U1-18", "Q1", "X1-1"]
  chain = [13, 11, 12]

  [[matrix.column]]
  label = "2"
  wire = "GN/RD"
  path = ["U1-17", "Q2", "X1-2"]
  chain = [22, 21, 23]

  [[matrix.column]]
  label = "3"
  wire = "GN/OG"
  path = ["U1-16", "Q3", "X1-3"]
  chain = [31, 33]

  [[matrix.row]]
  label = "1"
  wire = "WH/BN"
  path = ["U2-1", "X6-1"]

  [[matrix.row]]
  label = "2"
  wire = "WH/RD"
  path = ["U2-2", "X6-2"]

  [[matrix.row]]
  label = "3"
  wire = "WH/OG"
  path = ["U2-3", "X6-3"]

  [matrix.cell]
  11 = {zone = "lower left", reach = "ball"}
  33 = {zone = "upper left", reach = "glass off", rest = "closed"}

[[matrix]]
id = "coils"
kind = "coil"
numbering = "listed"
numbers = [["01A", "01C"], ["02A", "02C"]]
walk = ["01A", "02A", "01C"]
cells = [["kick", "gull flash"], ["post", "bell"]]

  [[matrix.column]]
  label = "A"
  wire = "GY"
  path = ["X11-1"]
  supply = ["F9"]
  select = "K1"
  when = "rest"

  [[matrix.column]]
  label = "C"
  wire = "GY/YE"
  path = ["X12-1"]
  supply = ["F10"]
  select = "K1"
  when = "pulled"

  [[matrix.row]]
  path = ["Q31", "X9-1"]

  [[matrix.row]]
  path = ["Q32", "X9-2"]

  [matrix.cell]
  01A = {ohms = 4.2, tolerance = 0.1}
  01C = {device = "flash lamp", fitted = "led", keep_warm = {ohms = 330, volts = 24}}
"""


class Slip(NamedTuple):
    """A mistake: `old` is replaced once; the problem stands where `at` does, with these words."""

    what: str
    old: str
    new: str
    severity: str
    at: str
    words: str


COLUMN_2 = SOUND[SOUND.index('  [[matrix.column]]\n  label = "2"') : SOUND.index('  [[matrix.column]]\n  label = "3"')]

SLIPS = [
    Slip("wrong format", "format = 1", "format = 2", "error", "format = 2", "must be 1"),
    Slip("no name", 'name = "Invented test bed"\n', "", "error", "format = 1", "is missing"),
    Slip("key misspelt", 'numbering = "column', 'numberring = "column', "error", "numberring", "'numbering'"),
    Slip("kind misspelt", 'kind = "switch"', 'kind = "swich"', "error", "swich", "'switch'"),
    Slip("numbering misspelt", '"column-then-row"', '"column then row"', "error", "then row", "'column-then-row'"),
    Slip("quotes left out", 'label = "A"', "label = A", "error", "label = A", "not TOML"),
    Slip(
        "bracket left open",
        '["left inlane", "tram stop 2", ""],',
        '["left inlane", "tram stop 2", "",',
        "error",
        '  [[matrix.column]]\n  label = "1"',
        "not TOML: line 19 opens a [ that nothing closes",
    ),
    Slip("comma left out", '"tram stop 1", "gull nest"', '"tram stop 1" "gull nest"', "error", "gull nest", "not TOML"),
    Slip(
        "entry left out of a row",
        '"tram stop 2", ""',
        '"tram stop 2"',
        "error",
        "left inlane",
        "has 2 entries where row 1 has 3",
    ),
    Slip("one name twice", '"tram stop 2"', '"tram stop 1"', "warning", "left inlane", "r1c2 has that name already"),
    Slip("unused written as a name", '"tram stop 2", ""', '"tram stop 2", "NOT USED"', "warning", "NOT USED", 'put ""'),
    Slip("blanks around a name", '"gull nest"', '" gull nest"', "warning", " gull nest", "'gull nest'"),
    Slip("wire in words", '"GN/BN"', '"green/brown"', "error", "green/brown", "'GN/BN'"),
    Slip("wire in other letters", '"GN/RD"', '"GR/RD"', "error", "GR/RD", "is not a wire colour"),
    Slip("wire with a hyphen", '"GN/OG"', '"GN-OG"', "error", "GN-OG", "'GN/OG'"),
    Slip(
        "one colour on two lines",
        '"GN/RD"',
        '"GN/BN"',
        "warning",
        COLUMN_2.splitlines()[2].replace("RD", "BN"),
        "column 1 has too",
    ),
    Slip("designator with a dot", '"X1-2"', '"X1.2"', "error", "X1.2", "'X1-2'"),
    Slip("designator in small letters", '"Q2"', '"q2"', "error", "q2", "'Q2'"),
    Slip("letters of no part", '"U1-17"', '"IC1-17"', "error", "IC1-17", "letters that name no kind"),
    Slip("one pin on two lines", '"X1-2"', '"X1-1"', "error", '"Q2", "X1-1"', "column 1 uses already"),
    Slip("one pin in two matrices", '"X9-1"', '"X6-1"', "warning", '"Q31", "X6-1"', "switches row 1 has too"),
    Slip("one transistor on two lines", '"Q2"', '"Q1"', "warning", '"U1-17", "Q1"', "column 1 has too"),
    Slip("one transistor in two matrices", '"Q31"', '"Q3"', "warning", '"Q3", "X9-1"', "switches column 3 has too"),
    Slip(
        "one part twice in a path",
        '"Q2", "X1-2"',
        '"X1-2", "X1-2"',
        "error",
        '"X1-2", "X1-2"',
        "stands in this path already",
    ),
    Slip("a digit too many in a pin", '"X6-3"', '"X6-33"', "warning", "X6-33", "far beyond 'X6-2'"),
    Slip("a line's table forgotten", COLUMN_2, "", "warning", 'label = "3"\n  wire = "GN', "give 2 a table too"),
    Slip(
        "labels alike",
        'label = "2"\n  wire = "GN',
        'label = "1"\n  wire = "GN',
        "warning",
        'label = "1"\n  wire = "GN/RD"',
        "column 1 has it already",
    ),
    Slip(
        "one table too many",
        "  [matrix.cell]\n  11",
        "  [[matrix.row]]\n  [matrix.cell]\n  11",
        "error",
        "[[matrix.row]]\n  [matrix.cell]",
        "one too many",
    ),
    Slip("chain without a cell", "chain = [22, 21, 23]", "chain = [22, 21]", "error", "[22, 21]", "leaves out 23"),
    Slip(
        "chain with a cell of another line",
        "chain = [22, 21, 23]",
        "chain = [22, 21, 33]",
        "error",
        "[22, 21, 33]",
        "not on column 2",
    ),
    Slip(
        "chain with a cell twice",
        "chain = [22, 21, 23]",
        "chain = [22, 21, 23, 21]",
        "error",
        "[22, 21, 23, 21]",
        "21 twice",
    ),
    Slip(
        "chain with an empty place",
        "chain = [31, 33]",
        "chain = [31, 32, 33]",
        "error",
        "[31, 32, 33]",
        "nothing is fitted",
    ),
    Slip(
        "one wrong numbering", '"column-then-row"', '"along-rows"', "error", "along-rows", "all fit 'column-then-row'"
    ),
    Slip(
        "the wrong side driven",
        'strobe = "column"',
        'strobe = "row"',
        "warning",
        'strobe = "row"',
        "only columns have a transistor",
    ),
    Slip("relay sides alike", 'when = "pulled"', 'when = "rest"', "warning", 'when = "rest"', "'pulled'"),
    Slip("relay without a position", '  when = "pulled"\n', "", "error", 'select = "K1"\n\n', "needs when"),
    Slip("position misspelt", '"pulled"', '"puled"', "error", "puled", "'pulled'"),
    Slip(
        "a fuse for a relay",
        'select = "K1"\n  when = "rest"',
        'select = "F1"\n  when = "rest"',
        "error",
        'select = "F1"',
        "starts with K",
    ),
    Slip("a part used beside its near twin", '"F9"]', '"F90"]', "warning", '"F90"', "'F9'"),
    Slip(
        "a part that nothing names",
        'ref = "F10"',
        'ref = "F11"',
        "error",
        'ref = "F11"',
        "no path, supply or select names",
    ),
    Slip(
        "a part described twice",
        'ref = "F10"',
        'ref = "F9"',
        "error",
        'ref = "F9", name = "coil fuse, side B"',
        "describes it already",
    ),
    Slip("a transistor as supply", 'supply = ["F1"]', 'supply = ["Q1"]', "error", 'supply = ["Q1"]', "name a fuse"),
    Slip(
        "a fuse of nothing",
        '["kick", "gull flash"], ["post", "bell"]',
        '["kick", ""], ["post", ""]',
        "warning",
        '"F10"]',
        "feeds nothing",
    ),
    Slip("reach misspelt", '"glass off"', '"glas off"', "warning", "glas off", "'glass off'"),
    Slip("reach unknown", '"ball"', '"by magic"', "warning", "by magic", "none of hand, ball"),
    Slip("rest misspelt", '"closed"', '"close"', "error", '"close"', "'closed'"),
    Slip("notes of an empty place", "  33 = {zone", "  32 = {zone", "error", "  32 = ", "nothing is fitted"),
    Slip("notes of no cell", "  33 = {zone", "  43 = {zone", "error", "  43 = ", "no number of this grid"),
    Slip("a number twice", '"02A", "02C"]]', '"02A", "01A"]]', "error", "numbers = ", "01A again"),
    Slip(
        "a number that reads like a place",
        '"01C"], ["02A"',
        '"c3"], ["02A"',
        "error",
        "numbers = ",
        "names a line or a place",
    ),
    Slip(
        "numbers forgotten",
        'numbers = [["01A", "01C"], ["02A", "02C"]]\n',
        "",
        "error",
        '[[matrix]]\nid = "coils"',
        "is missing",
    ),
    Slip("walk names no cell", 'walk = ["01A"', 'walk = ["04A"', "error", "04A", "doesn't have"),
    Slip("ohms as text", "ohms = 4.2", 'ohms = "4.2"', "error", '"4.2"', "needs a number"),
    Slip("ohms of a flash lamp", 'fitted = "led"', "ohms = 4", "error", "ohms = 4,", "for a coil only"),
    Slip("a percentage as tolerance", "tolerance = 0.1", "tolerance = 10", "error", "tolerance = 10", "at most 0.5"),
    Slip("a device that no coil matrix has", '"flash lamp"', '"switch"', "error", 'device = "switch"', "doesn't drive"),
    Slip(
        "an id twice",
        'id = "coils"',
        'id = "switches"',
        "error",
        'id = "switches"\nkind = "coil"',
        "has that id already",
    ),
    Slip("an id with a blank", 'id = "coils"', 'id = "coil bank"', "error", "coil bank", "letters, digits"),
]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "slip.toml"


def test_without_a_slip_nothing_is_said(path: Path) -> None:
    path.write_text(SOUND)
    assert look_over(path) == ()
    for one in shipped().values():
        assert look_over(one) == ()


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.what)
def test_a_typical_mistake_is_reported_on_its_line(path: Path, slip: Slip) -> None:
    assert slip.old in SOUND
    text = SOUND.replace(slip.old, slip.new, 1)
    path.write_text(text)
    line = text[: text.rindex(slip.at)].count("\n") + 1
    found = [(one.severity, one.line, str(one)) for one in look_over(path)]
    assert any(severity == slip.severity and at == line and slip.words in said for severity, at, said in found), found


def test_one_wrong_numbering_is_one_error_and_names_the_right_one(path: Path) -> None:
    path.write_text(SOUND.replace('"column-then-row"', '"row-then-column"', 1))
    (problem,) = look_over(path)
    assert problem.nearest == "column-then-row"


def test_a_warning_alone_passes_and_fails_when_it_is_asked_for(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_text(SOUND.replace('"glass off"', '"glas off"', 1))
    assert main(["layout", "check", str(path)]) == 0
    said = capsys.readouterr().out
    column = next(line for line in path.read_text().splitlines() if "glas off" in line).index("reach") + 1
    assert said.startswith(f"{path}:58:{column}: warning: matrix[1].cell.33.reach: ")
    assert main(["layout", "check", "--strict", str(path)]) == 1


def test_editors_get_each_problem_in_the_shape_that_they_read(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Source: Diagnostic in the Language Server Protocol 3.17 (from memory): places from 0, severity 1 and 2."""
    path.write_text(SOUND.replace('"glass off"', '"glas off"', 1).replace('"GN/OG"', '"GN-OG"', 1))
    assert main(["layout", "check", "--json", str(path)]) == 1
    data = json.loads(capsys.readouterr().out)
    lines = path.read_text().splitlines()
    wire, reach = data["diagnostics"]
    assert (wire["severity"], reach["severity"]) == (1, 2)
    for diagnostic, word in ((wire, "wire"), (reach, "reach")):
        start = diagnostic["range"]["start"]
        assert lines[start["line"]][start["character"] :].startswith(word)
        assert diagnostic["source"] == "matrixcheck"
    assert wire["message"].endswith("did you mean 'GN/OG'?")
    assert [(one["line"], one["severity"], one["nearest"]) for one in data["problems"]] == [
        (wire["range"]["start"]["line"] + 1, "error", "GN/OG"),
        (reach["range"]["start"]["line"] + 1, "warning", "glass off"),
    ]


def test_columns_count_in_utf_16_code_units(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Source: Position in the Language Server Protocol 3.17 (from memory): UTF-16 unless something else is agreed."""
    before = '{label = "\N{MUSICAL SYMBOL G CLEF}\N{MUSICAL SYMBOL F CLEF} \u00e9", '
    path.write_text(
        'format = 1\nname = "m"\n[[matrix]]\nid = "m"\nkind = "lamp"\ncells = [["a"]]\n'
        f'column = [{before}wire = "GN-OG"}}]\n',
        encoding="utf-8",
    )
    assert main(["layout", "check", "--json", str(path)]) == 1
    data = json.loads(capsys.readouterr().out)
    (one,) = data["diagnostics"]
    line = path.read_text(encoding="utf-8").splitlines()[6]
    unit = len("a".encode("utf-16-le"))
    rest = line.encode("utf-16-le")[one["range"]["start"]["character"] * unit :]
    assert rest.decode("utf-16-le").startswith("wire")
    assert data["problems"][0]["column"] == one["range"]["start"]["character"] + 1


def test_what_is_not_toml_is_pointed_at_in_the_same_units(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_text('name = "\N{MUSICAL SYMBOL G CLEF}" x\n', encoding="utf-8")
    assert main(["layout", "check", "--json", str(path)]) == 1
    (one,) = json.loads(capsys.readouterr().out)["diagnostics"]
    line = path.read_text(encoding="utf-8")
    assert line.encode("utf-16-le")[one["range"]["start"]["character"] * 2 :].decode("utf-16-le") == "x\n"
