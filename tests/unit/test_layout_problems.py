"""Each slip in a layout file gives its one line: line number, key, reason and what was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from matrixcheck.errors import InputError
from matrixcheck.layout.files import check_layout, parse_layout, read_layout

SOUND = """\
format = 1
name = "Test bed"

[[part]]
ref = "X5"

[[part]]
ref = "F2"

[[matrix]]
id = "switches"
kind = "switch"
supply = ["F2"]
cells = [
  ["left lane", "right lane"],
  ["stop", ""],
]

  [[matrix.column]]
  wire = "GN/BN"
  path = ["U4-1", "Q1", "X5-1"]
  chain = [2, 1]

  [[matrix.column]]
  path = [
    "U4-2",  # the chip
    "Q2",
    "X5-2",
  ]

  [[matrix.row]]
  path = ["U7-1", "X6-1"]
  chain = [1, 3]

  [matrix.cell.2]
  rest = "closed"

[[matrix]]
id = "coils"
kind = "coil"
numbering = "listed"
numbers = [
  [11, 12],
  [21, 0],
]
walk = [12, 11]
cells = [["kick", "flash"], ["post", ""]]

  [[matrix.column]]
  select = "K1"
  when = "rest"
  path = ["X9-1"]

  [[matrix.column]]
  select = "K1"
  when = "pulled"
  path = ["X9-1"]

  [matrix.cell]
  11 = {ohms = 4.2, tolerance = 0.1}
  12 = {device = "flash lamp", fitted = "led", keep_warm = {ohms = 330, volts = 24}}

[[matrix]]
id = "strings"
kind = "lamp"
rows_shared = false
cells = [["a1", "b1"], ["a2", "b2"]]

  [[matrix.row]]
  label = "near"
"""

KNOWN_PARTS = "U, Q, X, J, P, F, K, R, D, S, DS, L"
KNOWN_WIRES = "BK, BN, RD, OG, YE, GN, BU, VT, GY, WH, PK, GD, TQ, SR, GNYE"

# what is changed in the sound file, into what, and the one problem that this makes
SLIPS = [
    # shape
    ("format = 1", "format = 2", "1: format: must be 1, the only format there is, not 2"),
    ("format = 1", "format = '1'", "1: format: must be 1, the only format there is, not '1'"),
    ("format = 1\n", "", "1: format: is missing"),
    ('name = "Test bed"', "name = 5", "2: name: needs text in quotes, not 5"),
    ('name = "Test bed"', 'name = ""', "2: name: must not be empty, not ''"),
    (
        'name = "Test bed"',
        r'name = "Test\u001b[31m"',
        "2: name: holds a line break or another invisible character: use plain letters, marks and blanks",
    ),
    ('kind = "coil"\n', "", "38: matrix[2].kind: is missing"),
    ('kind = "coil"', 'kind = "coils"', "40: matrix[2].kind: must be 'switch', 'lamp' or 'coil', not 'coils'; did you "
     "mean 'coil'?"),
    ('id = "coils"', 'id = "2 coils"', "39: matrix[2].id: must start with a letter and hold only letters, digits, '-' "
     "and '_', not '2 coils'"),
    ('supply = ["F2"]', 'suply = ["F2"]', "13: matrix[1].suply: is no known key; did you mean 'supply'?"),
    ("[[matrix.row]]\n  label", "[[matrix.rows]]\n  label", "69: matrix[3].rows: is no known key; did you mean 'row'?"),
    ('ref = "X5"', 'ref = "X5"\ncolour = "red"', "6: part[1].colour: is no known key: use one of ref, name, place, "
     "rating, rate"),
    ("rows_shared = false", "rows_shared = 0", "66: matrix[3].rows_shared: needs true or false, not 0"),
    ('supply = ["F2"]', 'supply = "F2"', "13: matrix[1].supply: needs a list in [ ], not 'F2'"),
    ("chain = [2, 1]", 'chain = [2, 1, "1"]', "22: matrix[1].column[1].chain[3]: names 1 twice"),
    ("ohms = 4.2", "ohms = 0", "60: matrix[2].cell.11.ohms: must be at least 0.001, not 0"),
    ("ohms = 4.2", "ohms = inf", "60: matrix[2].cell.11.ohms: must be a finite number, not inf"),
    ("ohms = 4.2", "ohms = '4.2'", "60: matrix[2].cell.11.ohms: needs a number, not '4.2'"),
    ("tolerance = 0.1", "tolerance = 10", "60: matrix[2].cell.11.tolerance: must be at most 0.5, not 10"),
    (", volts = 24", "", "61: matrix[2].cell.12.keep_warm.volts: is missing"),
    ("{ohms = 330, volts = 24}", "330", "61: matrix[2].cell.12.keep_warm: needs a table, not 330"),
    ('rest = "closed"', 'rest = "close"', "36: matrix[1].cell.2.rest: must be 'open' or 'closed', not 'close'; did you "
     "mean 'closed'?"),
    ("  [matrix.cell.2]", "  [matrix.cell.two]", "35: matrix[1].cell.two: is no number of this grid: write "
     "[matrix.cell.12] for cell 12"),
    # designators and wires
    ('"Q2",', '"T2",', f"27: matrix[1].column[2].path[2]: 'T2' starts with letters that name no kind of part: use one "
     f"of {KNOWN_PARTS}"),
    ('"Q2",', '"q-2",', "27: matrix[1].column[2].path[2]: 'q-2' is not a reference designator: letters, a count, "
     "and -PIN for a contact, as in X5-4; did you mean 'Q2'?"),
    ('wire = "GN/BN"', 'wire = "green-brown"', f"20: matrix[1].column[1].wire: 'green-brown' is not a wire colour: "
     f"give a base or base/tracer of {KNOWN_WIRES}; did you mean 'GN/BN'?"),
    ('wire = "GN/BN"', 'wire = "GR"', f"20: matrix[1].column[1].wire: 'GR' is not a wire colour: give a base or "
     f"base/tracer of {KNOWN_WIRES}"),
    ('ref = "F2"', 'ref = "F22"', "8: part[2].ref: is 'F22', which no path, supply or select names; did you mean "
     "'F2'?"),
    ('ref = "F2"', 'ref = "F2"\n[[part]]\nref = "X5"', "10: part[3].ref: is 'X5' again: part 1 describes it already"),
    ('supply = ["F2"]', 'supply = ["F2", "Q9"]', "13: matrix[1].supply[2]: is 'Q9', a transistor: name a fuse, relay, "
     "plug or the like"),
    ('"X5-2",', '"X5-1",', "28: matrix[1].column[2].path[3]: is 'X5-1', a contact that column 1 uses already"),
    ('"X5-2",', '"X5-2", "Q2"', "28: matrix[1].column[2].path[4]: is 'Q2', which stands in this path already"),
    # the grid and its numbers
    ('["stop", ""]', '["stop"]', '16: matrix[1].cells[2]: has 1 entry where row 1 has 2: put "" for a gap'),
    ('["stop", ""]', '["stop", "  "]', '16: matrix[1].cells[2][2]: is a name of blanks: put "" where nothing is '
     "fitted"),
    ('[["a1", "b1"], ["a2", "b2"]]', "[]", '67: matrix[3].cells: is empty: give one list a row, one name a column'),
    ('[["a1", "b1"], ["a2", "b2"]]', "[[], []]", '67: matrix[3].cells: is empty: give one list a row, one name a '
     "column"),
    ('[["a1", "b1"], ["a2", "b2"]]', '[["", ""], ["", ""]]', "67: matrix[3].cells: holds no name: nothing is fitted"),
    ('[["a1", "b1"], ["a2", "b2"]]', "[[" + '"a",' * 129 + "]]", "67: matrix[3].cells: is 1 by 129: a matrix has at "
     "most 64 rows and columns"),
    ('[["a1", "b1"], ["a2", "b2"]]', "[" + '["a"],' * 129 + "]", "67: matrix[3].cells: is 129 by 1: a matrix has at "
     "most 64 rows and columns"),
    ("  [21, 0],\n", "", "42: matrix[2].numbers: has 1 row where cells has 2"),
    ("  [21, 0],", "  [21],", "44: matrix[2].numbers[2]: has 1 entry where its row of cells has 2"),
    ("  [21, 0],", "  [0, 0],", "44: matrix[2].numbers[2][1]: is 0, but 'post' is fitted there: give its number"),
    ("  [21, 0],", "  [12, 0],", "44: matrix[2].numbers[2][1]: is 12 again: r1c2 has that number already"),
    ("  [21, 0],", "  [-21, 0],", "44: matrix[2].numbers[2][1]: is -21: a cell's number lies between 1 and 999999"),
    ('rows_shared = false', 'numbers = [[1, 3], [2, 4]]', "66: matrix[3].numbers: is of use only with "
     "numbering = 'listed'"),
    ('rows_shared = false', 'numbering = "listed"', "63: matrix[3].numbers: is missing: a listed matrix gives one "
     "number a cell, 0 where nothing is fitted"),
    # lines
    ("chain = [2, 1]", "chain = [2]", "22: matrix[1].column[1].chain: leaves out 1: name every fitted cell of the "
     "line, or none"),
    ("chain = [2, 1]", "chain = [2, 1, 3]", "22: matrix[1].column[1].chain[3]: names 3, which is r1c2 and not on "
     "column 1"),
    ("chain = [2, 1]", "chain = [2, 1, 2]", "22: matrix[1].column[1].chain[3]: names 2 twice"),
    ("chain = [1, 3]", "chain = [1, 3, 5]", "33: matrix[1].row[1].chain[3]: names 5, a number that this grid doesn't "
     "have"),
    ("chain = [1, 3]", "chain = [1, 3, 4]", "33: matrix[1].row[1].chain[3]: names 4, but nothing is fitted at r2c2"),
    ("walk = [12, 11]", "walk = [12, 11, 12]", "46: matrix[2].walk[3]: names 12 twice"),
    ("walk = [12, 11]", "walk = [12, 13]", "46: matrix[2].walk[2]: names 13, a number that this grid doesn't have"),
    ('  [[matrix.row]]\n  label = "near"', '  [[matrix.row]]\n  [[matrix.row]]\n  [[matrix.row]]', "71: "
     "matrix[3].row[3]: is one too many: the grid has 2 rows"),
    ('  label = "near"', '  path = ["X1-1"]', "70: matrix[3].row[1].path: says how a row is wired, but rows_shared is "
     "false"),
    ('  when = "rest"\n', "", "50: matrix[2].column[1].select: needs when = 'rest' or 'pulled' beside it"),
    ('  select = "K1"\n  when = "rest"', '  when = "rest"', "50: matrix[2].column[1].when: needs select, the relay, "
     "beside it"),
    ('select = "K1"\n  when = "rest"', 'select = "Q5"\n  when = "rest"', "50: matrix[2].column[1].select: is 'Q5', a "
     "transistor: a relay's designator starts with K"),
    ('  label = "near"', '  when = "rest"', "70: matrix[3].row[1].when: stands on a row: only columns are selected by "
     "a relay"),
    # cells
    ("  [matrix.cell.2]", "  [matrix.cell.4]", "35: matrix[1].cell.4: has notes, but nothing is fitted at r2c2"),
    ("  [matrix.cell.2]", "  [matrix.cell.22]", "35: matrix[1].cell.22: is no number of this grid"),
    ("  [matrix.cell.2]", "  [matrix.cell.02]\n  [matrix.cell.2]", "36: matrix[1].cell.2: is cell 2 again: write its "
     "notes once, under 2"),
    ('rest = "closed"', "fitted = 'led'", "36: matrix[1].cell.2.fitted: is of use for a lamp only, and this is a "
     "switch"),
    ('rest = "closed"', "device = 'coil'", "36: matrix[1].cell.2.device: is 'coil', which a switch matrix doesn't "
     "drive"),
    ("11 = {ohms = 4.2, ", "11 = {", "60: matrix[2].cell.11.tolerance: needs ohms beside it"),
    ("11 = {ohms = 4.2, tolerance = 0.1}", "11 = {keep_warm = {ohms = 330, volts = 24}}", "60: "
     "matrix[2].cell.11.keep_warm: is of use for a lamp only, and this is a coil"),
    ('fitted = "led"', 'ohms = 8', "61: matrix[2].cell.12.ohms: is of use for a coil only, and this is a flash lamp"),
    ("11 = {ohms = 4.2, tolerance = 0.1}", "11 = {rest = 'open'}", "60: matrix[2].cell.11.rest: is of use for a switch "
     "only, and this is a coil"),
    # beside one another
    ('id = "coils"', 'id = "switches"', "39: matrix[2].id: is 'switches' again: matrix 1 has that id already"),
]  # fmt: skip


@pytest.fixture
def problems(tmp_path: Path):
    """A function that checks a text as a file and gives each problem's line without the file's name."""

    def checked(text: str) -> list[str]:
        path = tmp_path / "machine.toml"
        path.write_text(text, encoding="utf-8")
        return [str(problem).removeprefix(f"{path}:") for problem in check_layout(path)]

    return checked


def test_the_sound_file_has_no_problem(problems) -> None:
    assert problems(SOUND) == []
    assert parse_layout(SOUND, "test").matrix("coils").by_number[12].device == "flash lamp"


@pytest.mark.parametrize(("old", "new", "expected"), SLIPS)
def test_one_slip_gives_exactly_its_one_line(problems, old: str, new: str, expected: str) -> None:
    assert SOUND.count(old) >= 1
    assert problems(SOUND.replace(old, new, 1)) == [expected]


def test_every_problem_is_told_in_one_pass_in_the_order_of_the_file(problems) -> None:
    text = SOUND.replace('"Test bed"', "5").replace('["stop", ""]', '["stop"]').replace('"Q2",', '"T2",')
    text = text.replace("tolerance = 0.1", "tolerence = 0.1").replace('kind = "lamp"\n', "")
    assert [line.split(": ")[:2] for line in problems(text)] == [
        ["2", "name"],
        ["16", "matrix[1].cells[2]"],
        ["27", "matrix[1].column[2].path[2]"],
        ["60", "matrix[2].cell.11.tolerence"],
        ["63", "matrix[3].kind"],
    ]


def test_a_misspelt_key_does_not_make_its_parts_unknown(problems) -> None:
    assert problems(SOUND.replace("  path = [\n", "  paths = [\n")) == [
        "25: matrix[1].column[2].paths: is no known key; did you mean 'path'?"
    ]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param('  chain = [2, 1]\n', "", id="an unknown chain"),
        pytest.param('  path = ["U4-1", "Q1", "X5-1"]\n', '  path = ["X5"]\n', id="a path of one whole plug"),
        pytest.param('wire = "GN/BN"', 'wire = "GNYE"', id="green-and-yellow as one code"),
        pytest.param("walk = [12, 11]", "walk = [12]", id="a walk that leaves the rest to their numbers"),
        pytest.param('  [21, 0],', "  [21, 22],", id="a number where nothing is fitted"),
        pytest.param('supply = ["F2"]', 'supply = ["F2", "X1-3", "K9", "U12", "D1", "S3"]', id="many supplies"),
        pytest.param('label = "near"', "label = 7", id="a label that is a number"),
        pytest.param('  [[matrix.row]]\n  label = "near"', "", id="no rows at all"),
        pytest.param('"X5-2",', '"K4-2", "K4-3"', id="contacts of a relay"),
        pytest.param('["left lane", "right lane"]', '["lane", "lane"]', id="two cells of one name"),
        pytest.param("\n", "\r\n", id="line ends of another system"),
        pytest.param("format = 1", "\N{BOM}format = 1", id="a byte order mark"),
    ],
)  # fmt: skip
def test_what_the_format_allows_is_no_problem(problems, old: str, new: str) -> None:
    assert problems(SOUND.replace(old, new)) == []


def test_a_first_draft_needs_only_sizes_and_names(problems) -> None:
    assert problems('format = 1\nname = "New"\n[[matrix]]\nid = "m"\nkind = "coil"\ncells = [["a", ""]]\n') == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", ["1: format: is missing", "1: matrix: is missing: give at least one [[matrix]] with id, kind and cells",
              "1: name: is missing"]),
        ("format = 1\nname = \n", ["2: not TOML: invalid value at column 8"]),
        ("format = 1\nname 'x'\n", ["2: not TOML: expected '=' after a key in a key/value pair at column 6"]),
        ("format = 1\nformat = 1\n", ["2: not TOML: cannot overwrite a value at column 11"]),
        ("a = [1,\n2", ["2: not TOML: line 1 opens a [ that nothing closes"]),
    ],
)  # fmt: skip
def test_a_text_that_is_no_layout_is_told_with_its_line(problems, text: str, expected: list[str]) -> None:
    assert sorted(problems(text)) == sorted(expected)


def test_text_that_is_not_utf8_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    path.write_bytes(b"format = 1\nname = 'B\xe4r'\n")
    assert [str(problem) for problem in check_layout(path)] == [f"{path}:2: not UTF-8 text: save the file as UTF-8"]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"a = " + b"[" * 100_000, " not a layout: lists or tables nest too deeply"),
        (b"a = " + b"9" * 10_000, "1: not a layout: a number has too many digits"),
    ],
)
def test_monstrous_values_are_refused_in_one_line(tmp_path: Path, content: bytes, reason: str) -> None:
    path = tmp_path / "machine.toml"
    path.write_bytes(content)
    assert [str(problem) for problem in check_layout(path)] == [f"{path}:{reason}"]


@pytest.mark.parametrize("depth", range(470, 500))
def test_no_depth_of_nesting_breaks_the_check(problems, depth: int) -> None:
    assert len(problems(f"format = 1\na = {'[' * depth}{']' * depth}")) in (1, 3)


def test_what_is_no_file_to_read_is_refused_whole(tmp_path: Path) -> None:
    huge, locked = tmp_path / "huge.toml", tmp_path / "locked.toml"
    huge.write_bytes(b"#" * 2_000_001)
    locked.symlink_to(locked)
    for path, message in (
        (tmp_path / "none.toml", f"no file '{tmp_path}/none.toml': name a layout file"),
        (tmp_path, f"'{tmp_path}' is a folder: name a layout file in it"),
        (huge, f"'{huge}' is larger than 2 MB: that is no layout file"),
        (locked, f"'{locked}' can't be read: too many levels of symbolic links"),
        (Path("a\0b"), "'a\\x00b' can't be read: embedded null byte"),
    ):
        for read in (read_layout, check_layout):
            with pytest.raises(InputError) as refused:
                read(path)
            assert str(refused.value) == message


def test_reading_tells_the_first_problem_and_counts_the_others(tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    path.write_text(SOUND.replace("format = 1", "format = 2"))
    with pytest.raises(InputError) as one:
        read_layout(path)
    assert str(one.value) == f"{path}:1: format: must be 1, the only format there is, not 2"
    path.write_text(SOUND.replace("format = 1", "format = 2").replace("volts", "volt").replace("[2, 1]", "[2]"))
    with pytest.raises(InputError) as many:
        read_layout(path)
    assert str(many.value) == (
        f"{path}:1: format: must be 1, the only format there is, not 2; and 3 more: run `matrixcheck layout check "
        f"{path}`"
    )


def test_a_text_is_refused_in_the_name_of_its_source() -> None:
    with pytest.raises(InputError, match=r"^pasted text:1: format: must be 1, the only format there is, not 0$"):
        parse_layout(SOUND.replace("format = 1", "format = 0"), "pasted text")


def test_a_problem_is_one_line_whatever_stands_in_the_file(problems) -> None:
    lines = problems(
        'format = 1\nname = "x"\n"new\\nline" = 1\n[[matrix]]\nid = "a\\nb"\nkind = "\\u0007"\ncells = [["a"]]'
    )
    assert len(lines) == 3
    assert all(line.isprintable() for line in lines)
