"""What closed jobs say of the rates of faults: which parts and faults count, and the posterior of both."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_case import START
from scipy import stats

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.diagnosis.machine.learned_rates import WEIGHT, LearnedRate, RateName, learned, with_learned
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.layout.files import find_layout, parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.visits import Cured, Visit
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.tui.text.analysis import analysis_of
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()
SWITCHES = frozenset(cell.key for cell in TRAM.matrix("switches").fitted)
COLUMN = frozenset(key for key in SWITCHES if key.column == 3)
NONE = frozenset[CellKey]()


def rate(visits: list[Visit], *name: str) -> LearnedRate:
    """What visits say of one rate."""
    return next(one for one in learned(visits) if one.name == name)


def failures(visits: list[Visit]) -> dict[RateName, int]:
    """The faults that visits count."""
    return {one.name: one.failed for one in learned(visits) if one.failed}


@given(st.floats(0.004, 0.2), st.integers(0, 3000), st.integers(0, 40))
def test_the_posterior_is_that_of_a_beta_prior_and_a_binomial(in_use: float, seen: int, failed: int) -> None:
    """Against scipy.stats.beta, and against prior times likelihood summed on a grid.

    Below a rate of 0.004 most of the prior lies where no grid reaches.
    """
    one = LearnedRate(("part", "fuse"), in_use, seen + failed, 1, failed)
    assert one.mean == pytest.approx(stats.beta(one.a, one.b).mean(), rel=1e-12)
    assert 0 < one.mean < 1
    edges = np.logspace(-9, 0, 20001)
    middle = (edges[1:] + edges[:-1]) / 2
    log = stats.beta(in_use * WEIGHT, (1 - in_use) * WEIGHT).logpdf(middle) + stats.binom(seen + failed, middle).logpmf(
        failed
    )
    weight = np.exp(log - log.max()) * np.diff(edges)
    assert one.mean == pytest.approx(np.sum(weight * middle) / np.sum(weight), rel=1e-4)


def test_nothing_seen_leaves_every_rate_as_it_is() -> None:
    found = learned([])
    assert all(one.mean == pytest.approx(one.in_use, rel=1e-12) for one in found)
    kept = with_learned(None, found, "said")
    assert kept.says == "said"
    assert kept.part == pytest.approx(shipped_rates().part)
    assert kept.cell["led"] == pytest.approx(shipped_rates().cell["led"])
    assert kept.check is shipped_rates().check


def test_a_part_counts_once_for_each_job_that_tested_it() -> None:
    visit = Visit(TRAM, SWITCHES)
    drivers = {ref for ref, lines in TRAM.lines_through.items() if ref[0] == "Q" and lines[0].matrix == "switches"}
    assert rate([visit], "part", "transistor").seen == len(drivers)
    assert rate([visit], "cell", "switch", "device-dead").seen == len(SWITCHES)
    twice = rate([visit, visit], "cell", "switch", "device-dead")
    assert (twice.seen, twice.visits) == (2 * len(SWITCHES), 2)
    assert rate([Visit(TRAM, COLUMN)], "part", "transistor").seen == 1
    assert rate([Visit(TRAM, NONE)], "part", "transistor") == rate([], "part", "transistor")


@pytest.mark.parametrize(
    ("place", "dead", "on", "name"),
    [
        ("Q3", COLUMN, NONE, ("part", "transistor")),
        ("Q3", NONE, COLUMN, ("stuck_on", "switch driver")),
        ("X1-3", COLUMN, NONE, ("contact", "switch")),
        ("X5", SWITCHES, NONE, ("part", "connector")),
        ("F7", COLUMN, NONE, ("part", "fuse")),
        ("switches.c3", COLUMN, NONE, ("line", "open")),
        ("switches.c3", frozenset(sorted(COLUMN)[:2]), NONE, ("line", "break")),
        ("switches.r1", NONE, SWITCHES, ("grounded", "switch")),
        ("switches.r1c3", COLUMN, NONE, ("cell", "switch", "device-dead")),
        ("switches.r1c3", NONE, COLUMN, ("cell", "switch", "device-stuck")),
        ("K1", COLUMN, NONE, ("part", "relay")),
        ("a belt", COLUMN, NONE, None),
    ],
)
def test_a_cure_counts_under_the_fault_that_it_shows(
    place: str, dead: frozenset[CellKey], on: frozenset[CellKey], name: RateName | None
) -> None:
    found = failures([Visit(TRAM, SWITCHES, (Cured(place, dead, on),))])
    assert found == ({name: 1} if name else {})


def test_a_part_whose_rate_the_layout_gives_is_left_to_the_layout() -> None:
    text = find_layout("saltmarsh-tram").read_text(encoding="utf-8")
    own = parse_layout(f'{text}\n[[part]]\nref = "Q3"\nrate = 0.2\n', "own.toml")
    assert rate([Visit(own, COLUMN)], "part", "transistor").seen == 0


class Shop:
    """A book on which jobs are recorded."""

    def __init__(self, path: Path) -> None:
        self.bench = Bench(path, lambda: START)

    def job(self, *repairs: tuple[str, str], layout: Layout = TRAM) -> str:
        """A job whose column 3 is dead; each repair is followed by what is marked then."""
        job = self.bench.new_job(layout, "x", "INVENTED-1")
        self.bench.mark(job, "switches", "c3- 21 41")
        for place, marks in repairs:
            self.bench.repair(job, place, did="x")
            if marks:
                self.bench.mark(job, "switches", marks)
        return job

    def failures(self) -> dict[RateName, int]:
        """The faults that the book counts."""
        return failures(list(self.bench.closed_visits()))


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """An empty book."""
    return Shop(tmp_path / "bench.book")


def test_only_the_repair_whose_retest_passed_counts(shop: Shop) -> None:
    shop.bench.close_job(shop.job(("Q3", "c3-"), ("X1-3", "c3")), "done")
    assert shop.failures() == {("contact", "switch"): 1}


def test_an_open_job_counts_nothing_and_a_reopened_one_no_more(shop: Shop) -> None:
    job = shop.job(("X1-3", "c3"))
    assert shop.bench.closed_visits() == ()
    shop.bench.close_job(job, "done")
    assert shop.failures() == {("contact", "switch"): 1}
    shop.bench.archive_job(job)
    assert shop.failures() == {("contact", "switch"): 1}
    shop.bench.reopen_job(job)
    assert shop.bench.closed_visits() == ()


def test_a_repair_that_was_struck_out_counts_nothing(shop: Shop) -> None:
    job = shop.job(("X1-3", "c3"))
    number = next(line.seq for line in shop.bench.log(job) if line.text.startswith("repair"))
    shop.bench.undo(job, event=number)
    shop.bench.close_job(job, "done")
    assert shop.failures() == {}
    shop.bench.reopen_job(job)
    shop.bench.redo(job, event=number)
    shop.bench.close_job(job, "done")
    assert shop.failures() == {("contact", "switch"): 1}


def test_a_closing_that_was_struck_out_leaves_the_job_open(shop: Shop) -> None:
    job = shop.job(("X1-3", "c3"))
    shop.bench.close_job(job, "done")
    shop.bench.undo(job, event=shop.bench.log(job)[-1].seq)
    assert shop.bench.closed_visits() == ()


def test_two_repairs_under_one_retest_say_nothing_of_either(shop: Shop) -> None:
    shop.bench.close_job(shop.job(("Q3", ""), ("X1-3", "c3")), "done")
    assert [visit.cured for visit in shop.bench.closed_visits()] == [()]


def test_half_a_retest_and_a_repair_of_what_worked_say_nothing(shop: Shop) -> None:
    shop.bench.close_job(shop.job(("X1-3", "31 32")), "half")
    shop.bench.close_job(shop.job(("Q2", "c2")), "nothing failed")
    assert [visit.cured for visit in shop.bench.closed_visits()] == [(), ()]


def test_a_place_that_was_repaired_twice_in_a_job_counts_once(shop: Shop) -> None:
    shop.bench.close_job(shop.job(("X1-3", "c3"), ("X1-3", "c3"), ("X1-3", "c3")), "done")
    assert shop.failures() == {("contact", "switch"): 1}


def test_a_machine_that_comes_back_counts_again(shop: Shop) -> None:
    for _ in range(2):
        shop.bench.close_job(shop.job(("X1-3", "c3")), "done")
    one = rate(list(shop.bench.closed_visits()), "contact", "switch")
    assert (one.failed, one.visits) == (2, 2)


def test_a_job_that_went_on_with_another_layout_speaks_of_that(shop: Shop) -> None:
    """The manual turns up, and Q3 is Q33 in it."""
    job = shop.job(("X1-3", "c3"))
    text = find_layout("saltmarsh-tram").read_text(encoding="utf-8").replace('"Q3"', '"Q33"')
    shop.bench.relayout(job, parse_layout(text, "manual.toml"))
    shop.bench.close_job(job, "done")
    (visit,) = shop.bench.closed_visits()
    assert "Q33" in visit.layout.lines_through
    assert failures([visit]) == {("contact", "switch"): 1}
    assert rate([visit], "part", "transistor").seen == 3


@pytest.mark.slow
def test_an_answer_by_learned_rates_says_so_and_others_are_as_shipped(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(*words: str) -> str:
        assert main([*words]) == 0
        return capsys.readouterr().out

    monkeypatch.setenv("MATRIXCHECK_BOOK", str(shop.bench.path))
    monkeypatch.setenv("COLUMNS", "78")
    for _ in range(8):
        shop.bench.close_job(shop.job(("X1-3", "c3")), "done")
    job = shop.job()
    shipped, moved = (json.loads(run("suspects", job, "--json", *more)) for more in ((), ("--learned",)))
    assert shipped["rates"] == shipped["answer"]["rates"] == ""
    said = "learned from 8 closed jobs of this book (`matrixcheck rates` shows them)"
    assert moved["answer"]["rates"] == said

    def share(answer: dict[str, list[dict[str, list[dict[str, object]]]]]) -> object:
        return next(one["share"] for one in answer["cards"][0]["where"] if one["words"] == "contact X1-3")

    assert share(moved["answer"]) > share(shipped["answer"]) + 0.05  # type: ignore[operator]
    assert " ".join(said.split()) in " ".join(run("suspects", job, "--learned").split())
    assert said in run("report", job, "--learned")
    monkeypatch.setenv("MATRIXCHECK_LEARNED", "on")
    assert json.loads(run("suspects", job, "--json"))["answer"] == moved["answer"]
    assert "moved to the learned ones" in run("rates")
    bench = Bench(shop.bench.path, rates=shop.bench.learned_rates())
    state = bench.state(job)
    assert f"rates: {said}" in analysis_of(bench.diagnosis(job), answer_of_job(bench.diagnosis(job), state)).below


def test_the_rates_are_listed_with_what_they_rest_on(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(shop.bench.path))
    shop.bench.close_job(shop.job(("X1-3", "c3")), "done")
    assert main(["rates", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["format"], found["closed_jobs"], found["weight"]) == (1, 1, WEIGHT)
    contact = next(one for one in found["rates"] if one["table"] == ["contact", "switch"])
    assert (contact["in_use"], contact["jobs"], contact["cured"]) == (0.003, 1, 1)
    assert contact["learned"] == pytest.approx(contact["a"] / (contact["a"] + contact["b"]))
    for width in (60, 80):
        monkeypatch.setenv("COLUMNS", str(width))
        assert main(["rates"]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert max(map(len, lines)) <= width
        assert next(line.split() for line in lines if line.startswith("contact, switch"))[-4:-2] == ["1", "1"]
