"""A value changed in a layout's file changes that value alone, and keeps every comment in its place."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from typing import Any

import pytest
import tomlkit
from drawn_layouts import layouts
from hypothesis import given, settings
from hypothesis import strategies as st
from shorthand import together

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.charts.writing import layout_text
from matrixcheck.layout.edit.editing import edit_layout
from matrixcheck.layout.edit.keys import (
    Change,
    Key,
    MatrixKey,
    PartKey,
    chain_along,
    fields_of,
    key_named,
    key_text,
    value_at,
    value_of,
)
from matrixcheck.layout.files import parse_layout, shipped
from matrixcheck.layout.frozen import to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.shorthand import run, with_one
from tests.machines import saltmarsh_tram

SHIPPED = {name: path.read_text(encoding="utf-8") for name, path in shipped().items()}

COMMENTED = """\
#:schema ./layout.schema.json
# top
format = 1 # the only one
name = "Invented" # of course

# the parts
[[part]] # first
ref = "X1" # a plug
# between
name = "plug"

  # the first grid
[[matrix]] # here
id = "switches"
kind = "switch"
numbering = "column-then-row" # as the test shows them
cells = [ # row by row
  # row 1
  ["a", "b", "c"], # all three
  ["d", "e", ""], # a gap
] # that was the grid

  # columns
  [matrix.column] # together
  label = "0...2" # as the chart counts
  wire = ["GN/BN", "", "GN/OG"] # the middle one is hidden
  path = [
    "Q1...3", # transistors
    "X1-1...3", # contacts
  ] # outwards
  chain = [[11, 12], [], [31]] # two are known

  # rows, one by one
  [[matrix.row]] # the first
  wire = "WH" # plain
  chain = [
    31, # nearest
    21,
    # far away
    11,
  ] # known
  # about the second

  [matrix.cell.11] # by the door
  zone = "front" # low
  # closed with a ball in it
  rest = "closed"

  # about 22
  [matrix.cell.22]
  reach = "ball"
  # the lamps come now

[[matrix]]
id = "lamps"
kind = "lamp"
cells = [["x"], ["y"]]
column = [ # one
  {label = "1", path = ["Q9", "X1-9"]}, # alone
]
# notes
[matrix.cell] # in one table
1 = {zone = "low"} # near
# the end
"""

DOTTED = """\
format = 1
name = "Invented"
[[matrix]]
id = "lamps" # all
kind = "lamp"
cells = [["x", "y"]]
column.wire = ["GN", "RD"] # dotted
cell.1.zone = "low" # also dotted
"""

TEXTS = [*SHIPPED.values(), COMMENTED, DOTTED]


def comments_of(text: str) -> list[str]:
    """The comments of a text, told line by line: none of these texts has a # in quotes but those that are drawn."""
    bare = (re.sub(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'', "", line) for line in text.splitlines())
    return [line[line.index("#") :].rstrip() for line in bare if "#" in line]


def leaves(value: Any, place: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """Every value of a layout's data that holds no other, with its place; a list of refs or numbers is one."""
    if isinstance(value, dict) and place[-1:] != ("keep_warm",):
        for key, inner in value.items():
            yield from leaves(inner, (*place, key))
    elif isinstance(value, list) and (not value or isinstance(value[0], dict | list) or place[-2:-1] == ("cells",)):
        for at, inner in enumerate(value):
            yield from leaves(inner, (*place, at))
    else:
        yield place, value


def differences(before: Layout, after: Layout) -> set[tuple[str | int, ...]]:
    """The places at which two layouts differ, field by field."""
    one, other = (dict(leaves(json.loads(to_json(layout)))) for layout in (before, after))
    return {place for place in {*one, *other} if one.get(place) != other.get(place)}


def place_of(layout: Layout, key: Key) -> tuple[str | int, ...]:
    """The place of a key's value in a layout's data."""
    match key.owner:
        case CellKey(name, row, column):
            matrix = layout.matrix_ids.index(name)
            if key.field == "name":
                return ("matrix", matrix, "cells", row - 1, column - 1)
            return ("matrix", matrix, "cell", str(layout.matrices[matrix].number_at(row, column)), key.field)
        case LineKey(name, side, place):
            return ("matrix", layout.matrix_ids.index(name), side, place - 1, key.field)
        case MatrixKey(name):
            return ("matrix", layout.matrix_ids.index(name), key.field)
        case PartKey(ref):
            refs = [part.ref for part in layout.parts]
            return ("part", refs.index(ref) if ref in refs else len(refs), key.field)
    return (key.field,)


VALUES: dict[str, list[Any]] = {
    "name": ["another name", 'a "quoted" # one', "ü", "kind:"],
    "zone": ["upper left", "", None],
    "reach": ["ball", None],
    "rest": ["closed", "open"],
    "device": ["flash lamp", "coil", None],
    "fitted": ["led", "filament", None],
    "keep_warm": [{"ohms": 330, "volts": 24.5}, None],
    "ohms": [4.2, 5, None],
    "tolerance": [0.1, None],
    "label": ["7", "A", None, "a, b", "1...3"],
    "wire": ["GN/PK", "BU", "GNYE", None, "green"],
    "path": [["U9-1", "Q77", "X9-7"], ["Q78"], [], None, ["U1", "Q79", "D4", "X9-8", "R2"]],
    "supply": [["F9"], ["F9", "K9"], None],
    "select": ["K8", None, "Q1"],
    "when": ["rest", "pulled", None],
    "kind": ["switch", "lamp", "coil"],
    "numbering": ["along-rows"],
    "strobe": ["row", "column"],
    "diodes": [True, False, None],
    "volts": [12, 5.5, None, "much"],
    "rows_shared": [True, False],
    "place": ["left", "", None],
    "rating": ["2 A T", None],
    "rate": [0.25, None],
}


def drawn_change(layout: Layout, source: random.Random) -> Change:
    """A change of any kind but numbers: mostly one that fits the layout."""
    matrix = source.choice(layout.matrices)
    rows, columns = matrix.size
    cell = source.choice(matrix.fitted).key
    column = LineKey(matrix.id, "column", source.randint(1, columns))
    row = LineKey(matrix.id, "row", source.randint(1, rows))
    refs = [PartKey(ref) for ref in layout.lines_through] or [None]
    owner = source.choice([cell, cell, cell, column, column, row, MatrixKey(matrix.id), None, source.choice(refs)])
    field = source.choice([field for field in fields_of(owner) if field != "number"])
    if field not in ("chain", "walk"):
        return Change(Key(owner, field), source.choice(VALUES[field]))
    line = owner if isinstance(owner, LineKey) else None
    numbers = [each.number for each in matrix.fitted if line is None or line in (each.row_line, each.column_line)]
    source.shuffle(numbers)
    return Change(Key(owner, field), numbers or None)


def assert_one_change(text: str, change: Change) -> bool:
    """Change a text, or have it refused; return whether it was changed."""
    before = parse_layout(text, "before")
    refused = ""
    try:
        edited = edit_layout(text, "a.toml", [change])
    except InputError as error:
        refused = str(error)
    if refused:
        assert "\n" not in refused
        assert "without touching more" not in refused, change
        return False
    rest = iter(comments_of(edited.text))
    assert all(comment in rest for comment in comments_of(text)), change
    after = parse_layout(edited.text, "after")
    assert after == edited.layout
    key, value = change
    differ = differences(before, after)
    if isinstance(key.owner, PartKey) and key.owner.ref not in before.part_by_ref and value is not None:
        differ.discard(("part", len(before.parts), "ref"))
    assert differ <= {place_of(before, key)}, change
    found = value_at(after, key)
    default = str(key.owner.place) if isinstance(key.owner, LineKey) and key.field == "label" else None
    if value in (None, "", []):
        assert found in (None, "", (), default, "open", True, False, "down-columns", "column")
    elif isinstance(value, dict):
        assert (found.ohms, found.volts) == (value["ohms"], value["volts"])
    else:
        assert (list(found) if isinstance(value, list) else found) == value
    return True


@pytest.mark.parametrize("letters", [50_000, pytest.param(200_000, marks=pytest.mark.slow)])
@pytest.mark.parametrize("text", TEXTS, ids=[*SHIPPED, "commented", "dotted"])
def test_random_changes_of_commented_layouts_are_the_one_change_alone(text: str, letters: int) -> None:
    source = random.Random(len(text))
    layout = parse_layout(text, "drawn")
    made = [assert_one_change(text, drawn_change(layout, source)) for _ in range(letters // (len(text) + 1000))]
    assert sum(made) * 3 > len(made)


def in_headers(layout: Layout) -> str:
    """The layout's text with a table of its own for each part, line and cell."""
    return tomlkit.dumps(json.loads(to_json(layout)))


def given_together(layout: Layout) -> str:
    """The layout's text with the lines of each side in one table."""
    data = json.loads(to_json(layout))
    for matrix in data["matrix"]:
        for side in ("column", "row"):
            if side in matrix:
                matrix[side] = together(matrix[side])
    return tomlkit.dumps(data)


def as_written(layout: Layout) -> str:
    """The layout's text as the program writes it: one line a wire."""
    return layout_text(json.loads(to_json(layout)))


@pytest.mark.parametrize("written", [in_headers, given_together, as_written])
@given(layout=layouts(), seed=st.integers(0, 2**32))
@settings(max_examples=25)
def test_changes_of_drawn_layouts_with_a_comment_on_each_line_keep_them_all(
    written: Any, layout: Layout, seed: int
) -> None:
    lines = written(layout).splitlines()
    text = "\n".join(f"{line} # {count}" for count, line in enumerate(lines)) + "\n"
    assert parse_layout(text, "written") == layout
    assert_one_change(text, drawn_change(layout, random.Random(seed)))


def cells_of(layout: Layout) -> dict[CellKey, tuple[Any, ...]]:
    """All that is said of each cell, by its place: with its place in chains and walk in lieu of its number there."""
    found = {}
    for matrix in layout.matrices:
        for cell in matrix.fitted:
            orders = [matrix.walk, *(line.chain or () for line in (*matrix.columns, *matrix.rows))]
            ranks = tuple(order.index(cell.number) if cell.number in order else None for order in orders)
            found[cell.key] = (cell.number, cell.name, cell.notes, ranks)
    return found


@pytest.mark.parametrize("text", [SHIPPED["saltmarsh-tram"], COMMENTED, SHIPPED["lamp-8x8"]])
@pytest.mark.parametrize("seed", range(3))
def test_new_numbers_stand_wherever_the_old_ones_stood(text: str, seed: int) -> None:
    before = parse_layout(text, "before")
    source = random.Random(seed)
    matrix = source.choice(before.matrices)
    some = source.sample(matrix.fitted, min(4, len(matrix.fitted)))
    numbers = [*(cell.number for cell in some[1:]), source.choice(["A-7", 777])]
    changes = [Change(Key(cell.key, "number"), number) for cell, number in zip(some, numbers, strict=True)]
    edited = edit_layout(text, "a.toml", changes)
    rest = iter(comments_of(edited.text))
    assert all(comment in rest for comment in comments_of(text))
    wanted = cells_of(before)
    for cell, number in zip(some, numbers, strict=True):
        wanted[cell.key] = (number, *wanted[cell.key][1:])
    assert cells_of(edited.layout) == wanted


def test_a_number_that_another_cell_keeps_is_refused() -> None:
    with pytest.raises(InputError, match=r"21 would be two cells: r1c1 and switches\.21 \(b\)"):
        edit_layout(COMMENTED, "a.toml", [Change(Key(CellKey("switches", 1, 1), "number"), 21)])


def test_a_cell_without_a_name_leaves_chains_walk_and_notes() -> None:
    text = COMMENTED.replace("  # columns\n", "  walk = [22, 11]\n  # columns\n", 1)
    after = edit_layout(text, "a.toml", [Change(Key(CellKey("switches", 1, 1), "name"), "")])
    switches = after.layout.matrix("switches")
    assert 11 not in switches.by_number
    assert [line.chain for line in (*switches.columns, *switches.rows)][:4] == [(12,), None, (31,), (31, 21)]
    assert switches.walk == (22,)
    assert set(switches.notes) == {"22"}
    rest = iter(comments_of(after.text))
    assert all(comment in rest for comment in comments_of(text))


def test_a_cell_can_be_put_in_with_the_chains_that_then_hold_it() -> None:
    gap = CellKey("switches", 2, 3)
    with pytest.raises(InputError, match="leaves out 32"):
        edit_layout(COMMENTED, "a.toml", [Change(Key(gap, "name"), "f")])
    changes = [
        Change(Key(LineKey("switches", "column", 3), "chain"), [32, 31]),
        Change(Key(gap, "zone"), "rear"),
        Change(Key(gap, "name"), "f"),
    ]
    cell = edit_layout(COMMENTED, "a.toml", changes).layout.cell(gap)
    assert (cell.number, cell.name, cell.notes.zone) == (32, "f", "rear")


@pytest.mark.parametrize("text", [*SHIPPED.values(), COMMENTED])
def test_every_key_is_read_as_it_is_written(text: str) -> None:
    layout = parse_layout(text, "a")
    for matrix in layout.matrices:
        rows, columns = matrix.size
        lines = [LineKey(matrix.id, "column", place + 1) for place in range(columns)]
        lines += [LineKey(matrix.id, "row", place + 1) for place in range(rows)]
        cells = [CellKey(matrix.id, row + 1, column + 1) for row in range(rows) for column in range(columns)]
        for owner in (*lines, *cells, MatrixKey(matrix.id), *map(PartKey, layout.lines_through), None):
            key = Key(owner, fields_of(owner)[-1])
            assert key_named(key_text(key, layout), layout) == key


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("switches.33.name", Key(CellKey("switches", 3, 3), "name")),
        ("switch 33 reach", Key(CellKey("switches", 3, 3), "reach")),
        ("switches.r3c3.zone", Key(CellKey("switches", 3, 3), "zone")),
        ("tram stop 3.zone", Key(CellKey("switches", 3, 3), "zone")),
        ("switches.column.3.wire", Key(LineKey("switches", "column", 3), "wire")),
        ("switch column 3 wire", Key(LineKey("switches", "column", 3), "wire")),
        ("switches.c3.wire", Key(LineKey("switches", "column", 3), "wire")),
        ("lamp matrix.volts", Key(MatrixKey("lamps"), "volts")),
        ("fuse F1 rating", Key(PartKey("F1"), "rating")),
        ("x5-4.name", Key(PartKey("X5-4"), "name")),
        ("lamps.5.keep warm", Key(CellKey("lamps", 5, 1), "keep_warm")),
        ("name", Key(None, "name")),
    ],
)
def test_keys_are_named_as_the_program_names_places(text: str, key: Key) -> None:
    assert key_named(text, saltmarsh_tram()) == key


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("switches.33.zoen", "switches.33 has no value 'zoen': did you mean 'zone'?"),
        ("switches.33", "'switches.33' names no value: add one of name, number, zone"),
        ("c3.wire", "'c3' could be switches.c3, lamps.c3"),
        ("nmae", "no value is called 'nmae': did you mean 'name'?"),
        ("switches.column.9.wire", "has no part 'switches column 9'"),
        ("Q999.name", "has no part 'Q999'"),
        ("", "no value is called ''"),
    ],
)
def test_keys_that_name_nothing_are_refused_in_one_line(text: str, words: str) -> None:
    with pytest.raises(UsageError) as refused:
        key_named(text, saltmarsh_tram())
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("switches.c3.wire", "gn/rd", "switches.column.3.wire = 'gn/rd': 'gn/rd' is not a wire colour"),
        ("switches.c3.wire", "gn/rd", "did you mean 'GN/RD'?"),
        ("switches.33.rest", "close", "did you mean 'closed'?"),
        ("switches.33.number", "3 3", "switches.33.number = '3 3'"),
        ("switches.33.number", "", "is 0, but 'tram stop 3' is fitted there: give its number"),
        ("switches.volts", "much", "switches.volts = 'much': needs a number, not 'much'"),
        ("switches.c3.path", "U1-16, q3", "did you mean 'Q3'?"),
        ("switches.c3.chain", "36 34", "leaves out 31, 32, 33, 35, 37, 38"),
        ("coils.1.keep_warm", "330", "coils.1.keep_warm = '330'"),
        ("name", " ", "name = '': must not be empty"),
        ("switches.33.ohms", "4", "switches.33.ohms = 4: is of use for a coil only"),
    ],
)
def test_wrong_values_are_refused_in_the_words_of_the_check(key: str, value: str, words: str) -> None:
    text = SHIPPED["saltmarsh-tram"]
    named = key_named(key, saltmarsh_tram())
    with pytest.raises(InputError) as refused:
        edit_layout(text, "a.toml", [Change(named, value_of(named, value))])
    assert words in str(refused.value)
    assert str(refused.value).startswith("a.toml: ")
    assert "\n" not in str(refused.value)


def test_a_file_that_is_no_layout_is_not_changed() -> None:
    with pytest.raises(InputError, match=r"a\.toml:1: name: is missing|a\.toml:1:"):
        edit_layout("format = 1\n", "a.toml", [Change(Key(None, "name"), "x")])


@pytest.mark.parametrize(
    ("key", "value", "read"),
    [
        ("switches.c3.chain", "31, 32 9l", [31, 32, "9L"]),
        ("switches.c3.path", "U1-16  Q3,X1-3", ["U1-16", "Q3", "X1-3"]),
        ("switches.c3.path", '["U1-16", "Q3"]', ["U1-16", "Q3"]),
        ("lamps.5.keep_warm", "330 24.5", {"ohms": 330, "volts": 24.5}),
        ("lamps.5.keep_warm", "{ohms = 330, volts = 24}", {"ohms": 330, "volts": 24}),
        ("coils.1.ohms", "4.2", 4.2),
        ("switches.diodes", "false", False),
        ("switches.c3.wire", "", None),
        ("switches.33.name", "", ""),
        ("switches.33.name", "[x", "[x"),
    ],
)
def test_values_are_typed_as_words(key: str, value: str, read: Any) -> None:
    layout = saltmarsh_tram()
    assert value_of(key_named(key, layout), value) == read


refs = st.lists(st.builds("{}{}".format, st.sampled_from(["Q", "X1-"]), st.integers(0, 30)), min_size=1, max_size=12)


@given(refs, st.data())
@settings(max_examples=60)
def test_one_entry_of_a_run_is_changed_and_no_other(entries: list[str], data: st.DataObject) -> None:
    text = together([{"path": [ref]} for ref in entries])["path"][0]
    place = data.draw(st.integers(0, len(entries) - 1))
    new = with_one(text, len(entries), place, "K7")
    assert (run(new) or [new] * len(entries)) == [*entries[:place], "K7", *entries[place + 1 :]]


@pytest.mark.parametrize(
    ("text", "place", "new"),
    [
        ("J22-1\u20269", 3, "J22-1\u20263, K7, J22-5\u20269"),
        ("J22-1..J22-9, X1-1", 0, "K7, J22-2..J22-9, X1-1"),
        ("Q1...3, X1-1, X1-4...9", 3, "Q1...3, K7, X1-4...9"),
        ("Q1...2, Q4", 1, "Q1, K7, Q4"),
        ("K2", 1, "K2, K7, K2"),
    ],
)
def test_a_run_is_written_out_only_where_it_is_parted(text: str, place: int, new: str) -> None:
    assert with_one(text, 3, place, "K7") == new


def test_line_ends_and_the_byte_order_mark_stay() -> None:
    text = "\ufeff" + SHIPPED["coil-8x2"].replace("\n", "\r\n")
    changes = [Change(Key(MatrixKey("coils"), "volts"), 24), Change(Key(LineKey("coils", "row", 2), "wire"), "BU")]
    new = edit_layout(text, "a.toml", changes).text
    assert new.startswith("\ufeff#:schema")
    assert new.count("\n") == new.count("\r\n") > text.count("\n")


def test_a_chain_is_filled_in_along_the_wire() -> None:
    layout = saltmarsh_tram()
    line = LineKey("coils", "column", 2)
    before = layout.line(line).chain or ()
    half = chain_along(layout, line, [str(number) for number in before[:5]])
    assert (half.chain, set(half.missing)) == (list(before[:5]), set(before[5:]))
    assert chain_along(layout, line, before) == (list(before), ())
    assert chain_along(layout, line, before[::-1], from_plug=False) == (list(before), ())
    edited = edit_layout(SHIPPED["saltmarsh-tram"], "a", [Change(Key(line, "chain"), sorted(before))])
    assert edited.layout.line(line).chain == tuple(sorted(before))
    with pytest.raises(UsageError, match="'1' is not on coil column B: it has 17, 18"):
        chain_along(layout, line, [32, 1])
    with pytest.raises(UsageError, match="32 was met before"):
        chain_along(layout, line, ["32", 30, 32])
