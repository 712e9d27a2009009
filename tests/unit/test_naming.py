"""A part, line or cell is found by every name that the program writes it with."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_case import LAYOUT as PIER

from matrixcheck.diagnosis.words.places import numbers_words, part_words
from matrixcheck.errors import UsageError
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.naming import place_named
from matrixcheck.layout.wording import cell_words, line_words
from tests.machines import saltmarsh_tram, shipped_layout

TRAM = saltmarsh_tram()
TWINS = parse_layout(
    """
format = 1
name = "Two of a kind"

[[matrix]]
id = "upper"
kind = "switch"
name = "upper playfield"
cells = [["gate", "drop"], ["spinner", "lane"]]

[[matrix]]
id = "lower"
kind = "switch"
cells = [["gate", "outlane"], ["trough", "lane"]]
""",
    "twins",
)
LAYOUTS = [PIER, TRAM, TWINS, *(shipped_layout(name) for name in ("switch-8x8", "lamp-8x8", "coil-8x2"))]


def is_known(place: str, layout: Layout) -> bool:
    cells = {str(cell.key) for matrix in layout.matrices for cell in matrix.fitted}
    lines = {str(line) for matrix in layout.matrices for line in matrix.lines}
    return place in cells | lines | {*layout.lines_through, *layout.part_by_ref}


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_every_cell_is_found_by_all_its_names(layout: Layout) -> None:
    for matrix in layout.matrices:
        for cell in matrix.fitted:
            names = [
                str(cell.key),
                f"{matrix.id}.{cell.number}",
                f"{matrix.id} {cell.number}",
                f"{matrix.id} {cell.number} {cell.name}",
                cell_words(layout, cell.key),
                cell_words(layout, cell.key).upper(),
            ]
            assert {place_named(name, layout) for name in names} == {str(cell.key)}, names


def test_cells_of_two_matrices_of_one_sort_are_told_apart() -> None:
    words = [cell_words(TWINS, matrix.fitted[0].key) for matrix in TWINS.matrices]
    assert words == ["switch 1 of upper playfield (gate)", "switch 1 of lower (gate)"]
    assert cell_words(TRAM, TRAM.matrix("switches").fitted[0].key).startswith("switch 11 (")


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_every_line_is_found_by_all_its_names(layout: Layout) -> None:
    for matrix in layout.matrices:
        for key in matrix.lines:
            names = [str(key), str(key).upper(), f"{matrix.id} {key.side} {key.place}"]
            if matrix.lines[key].label:
                words = line_words(layout, key)
                names += [words, f"{words} wire", f"  {words.title()}  "]
            assert {place_named(name, layout) for name in names} == {str(key)}, names


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_every_part_is_found_by_all_its_names(layout: Layout) -> None:
    for ref in {*layout.lines_through, *layout.part_by_ref}:
        names = [ref, ref.lower(), part_words(ref), part_words(ref).lower(), ref.replace("-", "."), f"part {ref}"]
        assert {place_named(name, layout) for name in names} == {ref}, names


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("k1", "K1"),
        ("relay k1", "K1"),
        ("lamp 21", "lamps.r5c3"),
        ("lamps.21", "lamps.r5c3"),
        ("switches.12", "switches.r2c1"),
        ("lighting lamp 21", "lighting.r1c2"),
        ("contact x5-3", "X5-3"),
        ("x5.3", "X5-3"),
        ("X5 3", "X5-3"),
        ("coil column a", "coils.c1"),
        ("direct input 2", "inputs.r2"),
        ("the driver of switch column 3", "switches.c3"),
        ("switch column 3 wire", "switches.c3"),
    ],
)
def test_names_of_the_invented_machine(name: str, place: str) -> None:
    assert place_named(name, TRAM) == place


def test_a_name_that_only_one_matrix_has_needs_no_matrix() -> None:
    assert place_named("column 4", PIER) == "switches.c4"
    assert place_named("r3c4", PIER) == "switches.r3c4"
    assert place_named("bell", PIER) == "switches.r2c4"
    assert place_named("22", PIER) == "lamps.r2c2"


@pytest.mark.parametrize("name", ["column 1", "c1", "r1c1", "1"])
def test_a_name_that_could_be_several_lists_them(name: str) -> None:
    with pytest.raises(UsageError, match="could be switches") as caught:
        place_named(name, PIER)
    assert "name it with its matrix, as in switches." in caught.value.hint


@pytest.mark.parametrize(
    ("name", "hint"),
    [("Q22", "did you mean Q"), ("switches.c9", "name a fitted cell"), ("lamp pots 2", "lamp post 2"), ("", "name a")],
)
def test_what_the_layout_lacks_is_refused_with_what_is_near(name: str, hint: str) -> None:
    with pytest.raises(UsageError) as caught:
        place_named(name, PIER)
    assert hint in caught.value.hint


def test_numbers_words_name_their_cells() -> None:
    lamps = TRAM.matrix("lamps")
    for cell in lamps.fitted:
        assert place_named(numbers_words(TRAM, [cell.key]), TRAM) == str(cell.key)


@given(st.text(max_size=30))
def test_any_text_names_a_known_place_or_is_refused_in_one_line(text: str) -> None:
    try:
        found: str | UsageError = place_named(text, PIER)
    except UsageError as refused:
        found = refused
    assert "\n" not in str(found) if isinstance(found, UsageError) else is_known(found, PIER)
