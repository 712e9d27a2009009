"""The invented machine that comes with the program is whole, and sound as wiring."""

from __future__ import annotations

import pytest

from matrixcheck.layout.designators import part_class
from matrixcheck.layout.files import read_layout, shipped
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import LineKey

PATH = shipped()["saltmarsh-tram"]
TRAM = read_layout(PATH)


def test_it_says_that_it_is_invented_before_anything_else() -> None:
    schema, first, *_ = PATH.read_text(encoding="utf-8").splitlines()
    assert schema.startswith("#:schema ")
    assert "INVENTED" in first


def test_its_matrices_have_their_sizes() -> None:
    sizes = {matrix.id: (matrix.kind.value, matrix.size, len(matrix.fitted)) for matrix in TRAM.matrices}
    assert sizes == {
        "switches": ("switch", (8, 8), 60),
        "lamps": ("lamp", (8, 8), 60),
        "coils": ("coil", (16, 2), 30),
        "inputs": ("switch", (6, 1), 6),
        "lighting": ("lamp", (5, 3), 13),
    }


def test_every_name_is_short_and_its_own() -> None:
    names = [cell.name for matrix in TRAM.matrices for cell in matrix.fitted]
    assert len(set(names)) == len(names)
    assert max(map(len, names)) <= 24


@pytest.mark.parametrize("matrix", TRAM.matrices, ids=TRAM.matrix_ids)
def test_every_line_has_a_wire_and_a_path_that_ends_in_a_plug(matrix: Matrix) -> None:
    for line in matrix.lines.values():
        assert line.wire
        assert part_class(line.path[-1]) == "connector"


@pytest.mark.parametrize("matrix", TRAM.matrices, ids=TRAM.matrix_ids)
def test_no_two_lines_of_a_side_share_a_wire_colour(matrix: Matrix) -> None:
    wires = [line.wire for line in matrix.lines.values()]
    assert len(set(wires)) == len(wires)


def test_green_with_yellow_is_left_to_the_protective_earth() -> None:
    """IEC 60446/60445: the combination is the protective conductor's alone. Status: memory."""
    wires = [line.wire for matrix in TRAM.matrices for line in matrix.lines.values()]
    assert not {"GN/YE", "YE/GN", "GNYE"} & set(wires)


def test_most_chains_are_known_and_some_are_not() -> None:
    for matrix_id in ("switches", "lamps", "coils"):
        known = [line.chain is not None for line in TRAM.matrix(matrix_id).lines.values()]
        assert 0.5 < sum(known) / len(known) < 1


def test_a_plug_carries_switch_rows_and_lamp_columns() -> None:
    lines = [str(key) for key in TRAM.lines_through["X5"]]
    assert lines == [*(f"switches.r{n}" for n in range(5, 9)), *(f"lamps.c{n}" for n in range(1, 5))]


def test_a_fuse_feeds_coils_and_flash_lamps() -> None:
    assert {str(key) for key in TRAM.lines_through["F2"]} == {"coils.c1", "coils.c2"}
    devices = {cell.device for cell in TRAM.matrix("coils").fitted}
    assert devices == {"coil", "flash lamp"}


def test_the_sides_of_the_coil_bank_take_turns() -> None:
    sides = TRAM.matrix("coils").columns
    assert [(side.select, side.when) for side in sides] == [("K1", "rest"), ("K1", "pulled")]


def test_a_chip_serves_several_lines() -> None:
    assert len(TRAM.lines_through["U1"]) == 8
    assert len(TRAM.lines_through["U3"]) == 4


def test_every_contact_carries_one_line() -> None:
    for ref, lines in TRAM.lines_through.items():
        if "-" in ref:
            assert len(lines) == 1, ref


def test_every_switch_says_how_to_get_at_it() -> None:
    reaches = {cell.notes.reach for id_ in ("switches", "inputs") for cell in TRAM.matrix(id_).fitted}
    assert reaches == {"ball", "glass off", "playfield up", "door open", "hand"}


def test_balls_in_the_trough_and_light_beams_are_closed_while_all_is_well() -> None:
    closed = {cell.name for id_ in ("switches", "inputs") for cell in TRAM.matrix(id_).fitted
              if cell.notes.rest == "closed"}  # fmt: skip
    assert closed == {*(f"ball trough {n}" for n in range(1, 5)), "trough jam", "salt cart beam", "slam tilt"}


def test_every_coil_has_its_resistance_and_some_flash_lamps_a_standing_current() -> None:
    for cell in TRAM.matrix("coils").fitted:
        assert (cell.notes.ohms is not None) == (cell.device == "coil")
    warm = {cell.notes.fitted for cell in TRAM.matrix("coils").fitted if cell.notes.keep_warm}
    assert warm == {"filament", "led"}


def test_the_coil_test_steps_through_the_coils_before_the_flash_lamps() -> None:
    devices = [cell.device for cell in TRAM.matrix("coils").in_walk_order]
    assert devices == ["coil"] * 19 + ["flash lamp"] * 11


def test_every_part_of_a_fuse_or_plug_is_described() -> None:
    refs = {ref for ref in TRAM.lines_through if "-" not in ref and part_class(ref) in ("fuse", "connector", "relay")}
    assert refs <= set(TRAM.part_by_ref)
    assert all(part.rating for part in TRAM.parts if part_class(part.ref) == "fuse")


def test_lighting_strings_and_inputs_share_no_rows() -> None:
    assert LineKey("lighting", "row", 1) not in TRAM.matrix("lighting").lines
    assert not TRAM.matrix("inputs").rows_shared
