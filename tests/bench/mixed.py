"""Tables over drawn banks with faults of every class: what the circuit simulator shows, put to the diagnosis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from msgspec import convert

from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.diagnosis.machine.rates_file import read_rates
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.record.readings import read_readings
from tests.bench import others
from tests.bench.cases import KINDS, LESS_USUAL, Case, draw_case
from tests.bench.score import GLOW, Score, Worth, differing, score, worth_of
from tests.bench.tally import AS_GOOD, HEAD, Tally, asked, table, timed
from tests.spice.simulate import written

LESS_USUALLY_TOLD: Mapping[str, Mapping[str, float]] = {
    "some cells by marks alone": {"marks": 1.0},
    "parts checked at the bench": {"found": 1.0},
    "a loose contact held for a while": {"loose": 1.0},
}
WRONG = 0.01
OF_COUNT = ("no faults", "1 fault", "2 faults", "3 faults")
EVERY, FAULTY, HIDDEN = "none to 3 faults", "1 to 3 faults", "- chains hidden"
ROWS = (*OF_COUNT, FAULTY, HIDDEN, EVERY)
"""Rows of the table of cases like the contract's."""


def by_count(seed: int, count: int, healthy: int, ranked: int) -> None:
    """Machines with none, one, two and three faults, beside the majority rule and, for the first `ranked`, Ochiai."""
    rows, named = [], []
    faulty = Tally("matrixcheck")
    for faults, machines in ((0, healthy), (1, count), (2, count), (3, count)):
        ours, known, hidden = Tally("matrixcheck"), Tally("- chains known"), Tally("- chains hidden")
        rule, ranking = Tally("row and column majority"), Tally("Ochiai on predicted readings")
        alarms = 0
        for i in range(machines):
            case = draw_case(f"faulty {seed} {faults} {i}", KINDS[i % 3], faults, wrong=WRONG if faults else 0.0)
            layout, readings = _read(case)
            result, seconds, worth = _ours(case, layout, readings)
            alarms += any(suspect["members"][0]["lines"] for suspect in result.extra)
            for tally in (ours, known if case.known else hidden, *([faulty] if faults else [])):
                tally.add(result.top, result.three, seconds, result.probability, worth)
            _theirs(case, rule, others.majority_sets, layout, readings)
            if i < ranked:
                _theirs(case, ranking, _ranked, layout, readings)
        shown = (ours, known, hidden, rule, ranking) if faults else (ours, rule, ranking)
        for tally in shown if machines else ():
            rows += [((str(faults) if faults else "none"), *tally.judged_row())] if tally.top else []
        if faults == 3 and faulty.top:
            rows.append(("1 to 3", *faulty.judged_row()))
        named += [f"{alarms} of {machines} ({faults} put in)"] if machines else []
    if rows:
        table(
            "Faults of every class, 1 % wrong marks, 0 to 30 % left out, 4x8 to 8x10",
            rows,
            ("faults", *HEAD, *AS_GOOD),
        )
        print(f"\nMachines for which a shared fault was named that was not put in: {', '.join(named)}.", flush=True)


def of_the_contract(count: int) -> tuple[tuple[int, int], ...]:
    """Share machines out by their count of faults: two fifths each with one and with two, a fifth with three."""
    return (1, 2 * count // 5), (2, 2 * count // 5), (3, count // 5)


def like_the_contract(seed: int, count: int, healthy: int, rates_files: Sequence[Path] = ()) -> None:
    """Cases without wrong marks: machines without faults, and `count` with some.

    One table by the shipped rates, and one by the rates of each of the files.
    """
    ways = {"": None} | {f", rates of {path.name}": read_rates(path) for path in rates_files}
    tallies: dict[str, dict[str, Tally]] = {way: {} for way in ways}
    alarms: dict[str, list[str]] = {way: [] for way in ways}
    for faults, machines in ((0, healthy), *of_the_contract(count)):
        alarmed = dict.fromkeys(ways, 0)
        for i in range(machines):
            case = draw_case(f"contract {seed} {faults} {i}", KINDS[i % 3], faults)
            read = _read(case)
            for way, rates in ways.items():
                result, seconds, worth = _ours(case, *read, rates)
                alarmed[way] += any(suspect["members"][0]["lines"] for suspect in result.extra)
                for name in _rows_of(faults, bool(case.known)):
                    tally = tallies[way].setdefault(name, Tally(name))
                    tally.add(result.top, result.three, seconds, result.probability, worth)
        for way in ways if machines else ():
            alarms[way].append(f"{alarmed[way]} of {machines} ({faults} put in)")
    for way in ways if count or healthy else ():
        rows = [tallies[way][name].judged_row() for name in ROWS if name in tallies[way]]
        title = f"Faults of every class, no wrong marks, 0 to 30 % left out, 4x8 to 8x10{way}"
        table(title, rows, (*HEAD, *AS_GOOD))
        named = ", ".join(alarms[way])
        print(f"\nMachines for which a shared fault was named that was not put in: {named}.", flush=True)


def _rows_of(faults: int, known: bool) -> tuple[str, ...]:
    """Name the rows in which a case counts."""
    return OF_COUNT[faults], EVERY, *((FAULTY,) if faults else ()), *((HIDDEN,) if faults and not known else ())


def by_rates(seed: int, count: int) -> None:
    """Cases in which each fault is there at its shipped rate, whatever their number, without wrong marks."""
    every, hidden = Tally("all"), Tally("- chains hidden")
    of_number = {number: Tally(f"{number or 'no'} that show{'s' * (number == 1)}") for number in range(4)}
    more = Tally("four or more")
    for i in range(count):
        case = draw_case(f"rated {seed} {i}", KINDS[i % 3], 0, rated=True)
        result, seconds, worth = _ours(case, *_read(case))
        for tally in (every, of_number.get(_count_shown(case), more), *(() if case.known else (hidden,))):
            tally.add(result.top, result.three, seconds, result.probability, worth)
    rows = [tally.judged_row() for tally in (*of_number.values(), more, every, hidden) if tally.top]
    if rows:
        title = "Faults by the shipped rates, whatever their number, no wrong marks, 0 to 30 % left out, 4x8 to 8x10"
        table(title, rows, (*HEAD, *AS_GOOD))


def _count_shown(case: Case) -> int:
    return sum(seen and fault.fault != GLOW for fault, seen in zip(case.faults, case.visible, strict=True))


def three_faults(seed: int, count: int) -> None:
    """Three faults each, drawn evenly by class and by the shipped rates, without and with wrong marks."""
    rows = []
    for drawn, rated in (("evenly by class", False), ("by the shipped rates", True)):
        for marks, wrong in (("none wrong", 0.0), ("1 % wrong", WRONG)):
            tally = Tally(f"{drawn}, {marks}")
            for i in range(count):
                case = draw_case(f"three {seed} {i}", KINDS[i % 3], 3, wrong=wrong, rated=rated)
                result, seconds, worth = _ours(case, *_read(case))
                tally.add(result.top, result.three, seconds, result.probability, worth)
            rows += [tally.judged_row()] if tally.top else []
    if rows:
        table("Three faults in one matrix, 0 to 30 % left out, 4x8 to 8x10", rows, (*HEAD, *AS_GOOD))


def less_usual(seed: int, count: int) -> None:
    """Banks of other wiring, and readings told in other ways, one or two faults each."""
    rows = []
    ways: list[tuple[str, Sequence[str], Mapping[str, float]]] = [(_NAMES[kind], (kind,), {}) for kind in LESS_USUAL]
    ways += [(name, KINDS, chances) for name, chances in LESS_USUALLY_TOLD.items()]
    for name, kinds, chances in ways:
        tally = Tally(name)
        classes = ("open", "unplugged") if "loose" in chances else ()
        for i in range(count):
            case = draw_case(f"unusual {seed} {i}", kinds[i % len(kinds)], 1 + i % 2, classes=classes, **chances)
            result, seconds, worth = _ours(case, *_read(case))
            tally.add(result.top, result.three, seconds, result.probability, worth)
        rows += [tally.judged_row()] if tally.top else []
    if rows:
        title = "Less usual banks and ways to tell, one or two faults, no wrong marks"
        table(title, rows, (*HEAD, *AS_GOOD))


_NAMES = {"inputs": "direct inputs", "strings": "lighting strings", "bare": "switches without diodes"}


def _ours(
    case: Case, layout: Layout, readings: Sequence[Reading], rates: Rates | None = None
) -> tuple[Score, float, Worth]:
    answer, seconds = asked(layout, readings, [convert(each, Finding) for each in case.findings], rates)
    result = score(case.injected(), bool(case.known), answer, case.misjudged)
    return result, seconds, worth_of(result, sum(case.visible), partial(differing, case))


def _theirs(case: Case, tally: Tally, ask: Any, layout: Layout, readings: Sequence[Reading]) -> None:
    told, taken = timed(lambda: ask(layout, readings))
    result = score(case.injected(), bool(case.known), told, case.misjudged)
    tally.add(result.top, result.three, taken)


def _ranked(layout: Layout, readings: Sequence[Reading]) -> Mapping[str, Any]:
    return others.ochiai_sets(others.Spectra(layout, readings), readings)


def _read(case: Case) -> tuple[Layout, tuple[Reading, ...]]:
    layout = parse_layout(case.layout, case.name)
    return layout, read_readings(written(case.readings), layout, case.name)
