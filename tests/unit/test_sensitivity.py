"""The measurement of tuned constants: each is there, is changed wherever it is used, and ends as it was."""

from __future__ import annotations

from importlib import import_module

import pytest

from matrixcheck.diagnosis.inference import work
from matrixcheck.diagnosis.inference.beam import search
from tests.bench.sensitivity import HOME, Outcome, changed, constants, rows_of, scaled, tuned, untuned


def test_every_constant_of_the_diagnosis_is_measured_or_said_not_to_be_tuned() -> None:
    every = {(place, name) for place, names in constants().items() for name in names}
    measured = {(place, name) for exact in (False, True) for place, names in tuned(exact).items() for name in names}
    assert measured | untuned() == every
    assert not measured & untuned()
    assert {("inference.beam.search", "BEAM_WIDTH"), ("inference.exact.screening", "HIDDEN")} <= measured


def test_every_constant_that_is_found_is_a_number_of_its_module() -> None:
    for place, names in constants().items():
        home = import_module(f"{HOME}.{place}")
        assert all(type(getattr(home, name)) in (int, float) for name in names), place


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
        search._diverse(())
        return Outcome(search.BEAM_WIDTH >= 5, ("a fault",), 0.9)

    (row,) = rows_of({"inference.beam.search": ["BEAM_WIDTH"]}, [ask])
    assert row == ("`inference.beam.search.BEAM_WIDTH`", "5", "1", "1", "0", "0", "0.40", "0", "0", "0", "2.00")
    assert "BEAM_WIDTH" in capsys.readouterr().err


def test_a_case_is_asked_again_only_where_code_that_names_the_constant_runs() -> None:
    asked = []

    def ask() -> Outcome:
        asked.append(work.never())
        return Outcome(True, (), 1.0)

    (row,) = rows_of({"inference.beam.search": ["BEAM_WIDTH"]}, [ask])
    assert (row[2], len(asked)) == ("0", 2)
