"""Cases with known faults: an invented bank, one to three injected faults, and the readings that the circuit simulator
gives for them. `python -m tests.bench cases --out DIR --count N --seed S` writes them as files for `diagnose`."""

from __future__ import annotations

import argparse
import json
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from matrixcheck.layout.files import parse_layout
from tests.bench.layouts import draw_bank, layout_text
from tests.bench.observer import Observer, content, draw_again, draw_findings, draw_marked, draw_ohms, draw_wrong
from tests.bench.rated import RatedFaults, simulated
from tests.spice.bank import Bank, Fault, Place, address
from tests.spice.simulate import Exercise, written
from tests.spice.wiring import Board

KINDS = ("switch", "lamp", "coil")
LESS_USUAL = ("inputs", "strings", "bare")
LINE_CLASSES = ("open", "unplugged", "break", "stuck-on", "grounded", "shorted-together", "crossed")
CELL_CLASSES = ("device-dead", "device-stuck", "diode-open", "diode-shorted", "diode-reversed")
CHANCES = {
    "hidden": (0.25, "that no chain is told"),
    "wrong": (0.0, "of a wrong mark"),
    "marks": (0.0, "that some cells are told by a mark alone"),
    "loose": (0.0, "that a plug or an open line holds for a while"),
    "found": (0.0, "that parts were checked at the bench"),
}


@dataclass(frozen=True)
class Case:
    """One machine: the true bank, what its layout file tells, the faults with their visibility, the readings with how
    they were told, and what was found at the bench."""

    name: str
    bank: Bank
    board: Board
    layout: str
    known: frozenset[str]
    faults: tuple[Fault, ...]
    visible: tuple[bool, ...]
    plan: tuple[Exercise, ...]
    readings: list[dict[str, Any]]
    observer: Observer
    findings: list[dict[str, str]]

    def injected(self) -> list[dict[str, Any]]:
        """As an entry of `injected.json`."""
        return [
            fault.json(self.bank.id) | {"visible": seen} for fault, seen in zip(self.faults, self.visible, strict=True)
        ]

    @property
    def misjudged(self) -> tuple[str, ...]:
        """The cells that were judged wrongly, as `m.r1c3`."""
        cells = [self.plan[index].cell for index in sorted(self.observer.wrong)]
        return tuple(f"{self.bank.id}.{address(cell)}" for cell in cells if cell)

    def write(self, folder: Path) -> None:
        """`NAME.toml` and `NAME.jsonl`."""
        (folder / f"{self.name}.toml").write_text(self.layout, "utf-8")
        (folder / f"{self.name}.jsonl").write_text(written(self.readings), "utf-8")


def classes_for(bank: Bank) -> tuple[str, ...]:
    """The fault classes that a bank can have."""
    if not bank.shared:
        of_lines = ("open", "unplugged", "break", "stuck-on", "grounded", "shorted-together", "crossed")
        return of_lines + (("device-dead", "relay-stuck", "fuse-blown") if bank.is_strings else CELL_CLASSES[:2])
    extra = ("relay-stuck",) if bank.kind == "coil" else ()
    extra += ("keep-warm-glow",) if warm_leds(bank) else ()
    extra += ("wrong-device",) if measured(bank) else ()
    fused = bank.supply or any(line.supply for line in bank.lines.values())
    of_cells = CELL_CLASSES if bank.diodes else CELL_CLASSES[:2]
    return LINE_CLASSES + of_cells + extra + (("fuse-blown",) if fused else ())


def warm_leds(bank: Bank) -> tuple[Place, ...]:
    """The places of LEDs on keep-warm resistors."""
    noted = sorted(bank.notes.items())
    return tuple(place for place, note in noted if note.get("fitted") == "led" and "keep_warm" in note)


def measured(bank: Bank) -> tuple[Place, ...]:
    """The places of coils whose resistance the layout gives."""
    return tuple(place for place, note in sorted(bank.notes.items()) if "ohms" in note)


def draw_fault(rng: random.Random, bank: Bank, fault: str) -> Fault:
    """One fault of a class, at a place drawn evenly."""
    if fault in CELL_CLASSES:
        return Fault(fault, cells=(rng.choice(sorted(bank.fitted)),))
    if fault in ("keep-warm-glow", "wrong-device"):
        return Fault(fault, cells=warm_leds(bank) if fault == "keep-warm-glow" else (rng.choice(measured(bank)),))
    if fault == "relay-stuck":
        return _relay_fault(rng, bank)
    if fault == "fuse-blown":
        part = rng.choice(bank.supply or _fuses(bank))
        lines = [key for key, line in bank.lines.items() if line.is_column and part in bank.supply + line.supply]
        return Fault(fault, part, tuple(lines))
    chips = _owners(bank, "U")
    if fault == "unplugged" or (fault == "open" and chips and bank.shared and rng.random() < 0.3):
        part = rng.choice(_owners(bank, "X") if fault == "unplugged" else chips)
        return Fault(fault, part, bank.through(part))
    return _line_fault(rng, bank, fault)


def _relay_fault(rng: random.Random, bank: Bank) -> Fault:
    relay = rng.choice(_owners(bank, "K")) if bank.is_strings else "K1"
    lines = bank.through(relay) if bank.is_strings else ()
    return Fault("relay-stuck", relay, lines, when=rng.choice(("rest", "pulled")))


def _fuses(bank: Bank) -> list[str]:
    return sorted({part for line in bank.lines.values() for part in line.supply})


def _owners(bank: Bank, letter: str) -> list[str]:
    parts = {ref.partition("-")[0] for line in bank.lines.values() for ref in line.path if ref[0] == letter}
    return sorted(parts)


def _line_fault(rng: random.Random, bank: Bank, fault: str) -> Fault:
    if fault == "break":
        line = rng.choice([key for key in bank.lines if len(bank.cells_of(key)) > 1])
        return Fault(fault, lines=(line,), after=rng.randint(1, len(bank.cells_of(line)) - 1))
    side = rng.choice("rc") if bank.shared else "c" if bank.is_strings else "r"
    of_side = [key for key in bank.lines if key[0] == side]
    if fault in ("shorted-together", "crossed"):
        return Fault(fault, lines=tuple(sorted(rng.sample(of_side, 2), key=lambda key: int(key[1:]))))
    return Fault(fault, lines=(rng.choice(of_side),))


def draw_plan(rng: random.Random, bank: Bank, leave_out: float) -> tuple[Exercise, ...]:
    """A rest scan, then the fitted cells row by row with some left out; a switch bank in one to three hold rounds."""
    cells = [place for place in sorted(bank.fitted) if rng.random() >= leave_out]
    if bank.kind != "switch" or not bank.shared:
        return (Exercise(None), *(Exercise(cell) for cell in cells))
    rounds = rng.choice((1, 1, 2, 2, 3))
    cuts = sorted(rng.sample(range(1, max(len(cells), rounds)), rounds - 1)) if rounds > 1 else []
    parts = [cells[a:b] for a, b in zip([0, *cuts], [*cuts, len(cells)], strict=True)]
    rests, exercises = [], []
    for part in parts:
        held = _hold(rng, bank)
        rests.append(Exercise(None, held))
        exercises += [Exercise(cell, tuple(place for place in held if place != cell)) for cell in part]
    return (*rests, *exercises)


def _hold(rng: random.Random, bank: Bank) -> tuple[Place, ...]:
    places = sorted(bank.fitted)
    shape = rng.choice(("none", "none", "one", "column", "row", "corner", "corner", "any", "diagonal"))
    first = rng.choice(places)
    if shape == "none":
        return ()
    if shape == "one":
        return (first,)
    if shape in ("column", "row"):
        at = 1 if shape == "column" else 0
        line = [place for place in places if place[at] == first[at]]
        return tuple(sorted(rng.sample(line, min(3, len(line)))))
    if shape == "corner":
        row = [place for place in places if place[0] == first[0] and place != first]
        column = [place for place in places if place[1] == first[1] and place != first]
        found = {first} | ({rng.choice(row)} if row else set()) | ({rng.choice(column)} if column else set())
        return tuple(sorted(found))
    if shape == "any":
        return tuple(sorted(rng.sample(places, min(3, len(places)))))
    diagonal = [(1 + i, 1 + (i + first[1]) % bank.columns) for i in range(bank.rows)]
    return tuple(place for place in diagonal if place in bank.fitted)


def draw_board(rng: random.Random, bank: Bank) -> Board:
    """The electrical values that the layout doesn't tell."""
    threshold = rng.uniform(1.65, 1.8)
    if bank.kind == "switch" and bank.volts > 5:
        threshold = rng.choice((2.1, 3.0, 5.5))
    return Board(
        threshold=threshold,
        strong=rng.random() < 0.5,
        polar=rng.random() < 0.5,
        coil_ohms={place: bank.volts / 1.5 * rng.uniform(0.75, 1.3) for place in sorted(bank.fitted)},
        flash_led_bright=rng.choice((0.4, 0.6)),
    )


def draw_case(
    seed: str,
    kind: str,
    count: int,
    *,
    hidden: float = 0.25,
    wrong: float = 0.0,
    marks: float = 0.0,
    loose: float = 0.0,
    found: float = 0.0,
    classes: tuple[str, ...] = (),
    size: Place | None = None,
    rated: bool = False,
) -> Case:
    """The case of a seed: `count` faults (of the `classes`, where given) in a bank of the kind. Where `rated`, so many
    by the shipped rates; with a count of 0 each fault by itself at its rate, whatever their number. `hidden` is the
    chance that its layout tells no chain, `wrong` that of a wrong mark of an exercised cell; `marks` that some cells
    are told by a mark alone, `loose` that a plug or an open line held for a while, `found` that parts were checked.

    Faults that cover each other up, so that none of them is visible though something shows, are drawn again.
    """
    rng, observer_rng = random.Random(seed), random.Random(f"telling {seed}")
    while True:
        bank = draw_bank(rng, kind, size)
        board = draw_board(rng, bank)
        bank = with_ohms(bank, board)
        injected = _draw_rated(rng, bank, count) if rated else _draw_faults(rng, bank, count, classes)
        plan = draw_plan(rng, bank, rng.choice((0.0, 0.1, 0.2, 0.3)))
        known = frozenset(bank.lines) if rng.random() >= hidden else frozenset()
        held, again = draw_again(observer_rng, bank, injected, plan, loose)
        marked, ohms = draw_marked(observer_rng, plan, marks), draw_ohms(observer_rng, bank, injected)
        observer = Observer(marked=marked, ohms=ohms, loose=held, again=again)
        shown = _remembered(observer, bank, board, plan)
        seen = _visible(shown, injected)
        if any(seen) or _says(shown(injected)) == _says(shown(())):
            break
    observer = replace(observer, wrong=draw_wrong(rng, plan, wrong))
    readings = observer.readings(bank, injected, board, plan) if observer.wrong else shown(injected)
    if board.strong and rng.random() < 0.5:
        readings = [{key: value for key, value in reading.items() if key != "blew"} for reading in readings]
    findings = draw_findings(observer_rng, bank, injected, found)
    text = layout_text(bank, known)
    return Case(f"{kind}-{seed}", bank, board, text, known, injected, seen, plan, readings, observer, findings)


def with_ohms(bank: Bank, board: Board) -> Bank:
    """A coil bank whose layout gives every other coil's resistance."""
    coils = [place for place in sorted(bank.fitted) if bank.kind == "coil" and place not in bank.notes]
    ohms = {place: {"ohms": round(board.coil_ohms[place], 1), "tolerance": 0.1} for place in coils[::2]}
    return replace(bank, notes=bank.notes | ohms)


Shown = Callable[[tuple[Fault, ...]], list[dict[str, Any]]]


def _remembered(observer: Observer, bank: Bank, board: Board, plan: tuple[Exercise, ...]) -> Shown:
    """The readings by the faults, each set simulated once."""
    return cache(lambda faults: observer.readings(bank, faults, board, plan))


def _says(readings: Sequence[Mapping[str, Any]]) -> list[tuple[object, ...]]:
    return list(map(content, readings))


def _visible(shown: Shown, faults: tuple[Fault, ...]) -> tuple[bool, ...]:
    """For each fault: whether taking out just this one would change what is told."""
    whole = _says(shown(faults))
    return tuple(_says(shown(faults[:i] + faults[i + 1 :])) != whole for i in range(len(faults)))


def _draw_faults(rng: random.Random, bank: Bank, count: int, classes: tuple[str, ...]) -> tuple[Fault, ...]:
    allowed = [name for name in classes_for(bank) if not classes or name in classes]
    faults: list[Fault] = []
    while len(faults) < count:
        fault = draw_fault(rng, bank, rng.choice(allowed))
        if goes_with(fault, faults):
            faults.append(fault)
    return tuple(faults)


def _draw_rated(rng: random.Random, bank: Bank, count: int) -> tuple[Fault, ...]:
    """Draw so many faults by the shipped rates, or each by itself, and what the bank has besides, which is no fault."""
    known = RatedFaults(parse_layout(layout_text(bank, frozenset(bank.lines)), "drawn"))

    def make(member: Mapping[str, Any]) -> Fault:
        return simulated(member, bank.shared)

    drawn = known.draw(rng, count, make, goes_with) if count else known.draw_all(rng, make, goes_with)
    return (*drawn, *known.draw_of_banks(rng, make))


def goes_with(fault: Fault, others: Sequence[Fault]) -> bool:
    """One fault a cell, one of a class a line, one relay: two of them would be one."""
    for other in others:
        if fault.fault == other.fault and (set(fault.lines) & set(other.lines) or fault.part == other.part is not None):
            return False
        if set(fault.cells) & set(other.cells) or fault.fault == other.fault == "relay-stuck":
            return False
        if {fault.fault, other.fault} <= {"shorted-together", "crossed"} and set(fault.lines) & set(other.lines):
            return False
    return True


def redraw(entry: dict[str, Any]) -> Case:
    """The case behind an entry of a written `injected.json`."""
    kind, _, seed = entry["case"].partition("-")
    chances = {name: entry["drawn"][name] for name in CHANCES}
    return draw_case(seed, kind, entry["drawn"]["count"], **chances, classes=tuple(entry["drawn"]["classes"]))


def main(argv: list[str]) -> int:
    """Writes cases and `injected.json` into a folder."""
    parser = argparse.ArgumentParser("python -m tests.bench cases")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=KINDS + LESS_USUAL, action="append")
    parser.add_argument("--faults", type=int, action="append", help="how many; may be given several times")
    parser.add_argument("--class", dest="classes", action="append", default=[], help="only faults of these classes")
    for name, (usual, told) in CHANCES.items():
        parser.add_argument(f"--{name}", type=float, default=usual, help=f"chance {told}")
    options = parser.parse_args(argv)
    options.out.mkdir(parents=True, exist_ok=True)
    kinds, counts = options.kind or KINDS, options.faults or (0, 1, 1, 2, 2, 3)
    chances = {name: getattr(options, name) for name in CHANCES}
    listed = []
    for i in range(options.count):
        kind, count = kinds[i % len(kinds)], counts[i // len(kinds) % len(counts)]
        case = draw_case(f"{options.seed}-{i}", kind, count, **chances, classes=tuple(options.classes))
        case.write(options.out)
        entry = {
            "case": case.name,
            "chains": bool(case.known),
            "injected": case.injected(),
            "misjudged": case.misjudged,
        }
        drawn = {"count": len(case.faults), **chances, "classes": options.classes}
        listed.append(entry | {"findings": case.findings, "drawn": drawn})
    text = "[\n" + ",\n".join(f"  {json.dumps(entry)}" for entry in listed) + "\n]\n"
    (options.out / "injected.json").write_text(text, "utf-8")
    print(f"{options.count} cases in {options.out}")
    return 0
