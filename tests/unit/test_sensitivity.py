"""The measurement of tuned constants: each is there, is changed wherever it is used, and ends as it was."""

from __future__ import annotations

from importlib import import_module

import pytest

from matrixcheck.diagnosis.inference import work
from matrixcheck.diagnosis.inference.beam import search
from tests.bench.sensitivity import HOME, MARKS, MIXED, Outcome, changed, rows_of, scaled


@pytest.mark.parametrize("place", [*MIXED, *MARKS])
def test_every_constant_that_is_measured_is_a_number_of_its_module(place: str) -> None:
    home = import_module(f"{HOME}.{place}")
    for name in (MIXED | MARKS)[place].split():
        assert isinstance(getattr(home, name), int | float), name


def test_a_constant_is_changed_wherever_it_is_imported_and_only_meanwhile() -> None:
    before = work.PER_SET
    with changed(work, "PER_SET", 2 * before):
        assert {work.PER_SET, search.PER_SET} == {2 * before}
    assert {work.PER_SET, search.PER_SET} == {before}


def test_a_count_that_is_halved_stays_a_count() -> None:
    assert (scaled(5, 0.5), scaled(1, 0.5), scaled(3, 2.0), scaled(7.0, 0.5)) == (2, 1, 6, 3.5)


def test_work_is_told_against_that_with_the_constant_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    def ask() -> Outcome:
        work.Work(1e6).spend(search.BEAM_WIDTH)
        return Outcome(search.BEAM_WIDTH >= 5, ("a fault",), 0.9)

    (row,) = rows_of({"inference.beam.search": "BEAM_WIDTH"}, [ask])
    assert row == ("`inference.beam.search.BEAM_WIDTH`", "5", "1", "0", "0", "0.40", "0", "0", "0", "2.00")
    assert "BEAM_WIDTH" in capsys.readouterr().err
