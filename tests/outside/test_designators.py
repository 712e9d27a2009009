"""Reference designators against the class letters of IEEE 315.

Source: IEEE 315, *Graphic symbols for electrical and electronics diagrams*, class designation letters; IEC 61346/81346.
Status: memory. IEEE 315 lists CR beside D for a diode, and DS for a lamp.
"""

from __future__ import annotations

import pytest

from matrixcheck.layout.designators import CLASS_LETTERS, is_ref, nearest_ref, owner, part_class

IEEE_315 = {
    "U1": "integrated circuit", "Q12": "transistor", "J3": "connector", "P3": "connector", "X3": "connector",
    "F2": "fuse", "K1": "relay", "R100": "resistor", "D7": "diode", "S4": "switch", "DS9": "lamp", "L1": "inductor",
}  # fmt: skip


@pytest.mark.parametrize(("ref", "kind"), IEEE_315.items())
def test_a_letter_names_the_kind_of_part(ref: str, kind: str) -> None:
    assert part_class(ref) == kind
    assert part_class(f"{ref}-4") == kind
    assert is_ref(ref)


def test_no_letter_is_taken_that_the_table_lacks() -> None:
    assert set(CLASS_LETTERS) == {ref.rstrip("0123456789") for ref in IEEE_315}


@pytest.mark.parametrize(
    "ref", ["", "Q", "5", "q3", "Q-3", "Q3-", "Q3-4-5", "Q 3", "Q33333", "X5-ABCDE", "Q\u0663", "Q3\n"]
)
def test_what_is_not_letters_and_a_count_is_no_designator(ref: str) -> None:
    assert not is_ref(ref)
    with pytest.raises(ValueError, match="is not a reference designator"):
        part_class(ref)


@pytest.mark.parametrize("ref", ["T3", "IC4", "CR1", "Z9", "QQ1"])
def test_letters_that_the_layout_does_not_know_are_told_apart_from_bad_form(ref: str) -> None:
    assert not is_ref(ref)
    with pytest.raises(ValueError, match="starts with letters that name no kind of part"):
        part_class(ref)


@pytest.mark.parametrize(("ref", "part"), [("X5-4", "X5"), ("X5", "X5"), ("K1-A2", "K1")])
def test_a_contact_belongs_to_its_part(ref: str, part: str) -> None:
    assert owner(ref) == part


@pytest.mark.parametrize(
    ("slip", "meant"),
    [("x5-4", "X5-4"), ("X5.4", "X5-4"), ("X5 4", "X5-4"), ("q-3", "Q3"),
     (" U4-1 ", "U4-1"), ("ds_12/3", "DS12-3"), ("CR7", "D7"),
     ("T3", None), ("Q", None), ("", None), ("X5-4-3", None)],
)  # fmt: skip
def test_a_slip_of_the_pen_is_understood(slip: str, meant: str | None) -> None:
    assert nearest_ref(slip) == meant
