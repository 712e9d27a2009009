"""Invented banks of the sizes and wiring that real boards have, drawn from a seeded generator."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from tests.spice.bank import Bank, Conductor, Place, address

_SWITCH_SIZES = ((8, 8), (8, 8), (8, 8), (8, 8), (8, 10), (8, 10), (4, 8), (6, 8), (5, 9), (7, 8))
_LAMP_SIZES = ((8, 8), (8, 8), (8, 8), (8, 8), (8, 10), (8, 10), (6, 8), (4, 8))
_COIL_ROWS = (6, 8, 8, 8, 10)


def draw_bank(rng: random.Random, kind: str, size: Place | None = None) -> Bank:
    """A bank of the kind, with every chain known. Chips carry four or eight lines, plugs share out the contacts.

    `switch`, `lamp`, `coil`; `inputs` (direct ones), `strings` (of lamps), `bare` (a switch matrix without diodes).
    """
    if kind in ("inputs", "strings"):
        return _draw_inputs(rng) if kind == "inputs" else _draw_strings(rng)
    if kind == "bare":
        return replace(draw_bank(rng, "switch", size), diodes=False)
    if size is None:
        size = {
            "switch": lambda: rng.choice(_SWITCH_SIZES),
            "lamp": lambda: rng.choice(_LAMP_SIZES),
            "coil": lambda: (rng.choice(_COIL_ROWS), 2),
        }[kind]()
    rows, columns = size
    volts = {"switch": rng.choice((5, 5, 12)), "lamp": 18, "coil": rng.choice((24, 35, 50))}[kind]
    fitted = _fitted(rng, rows, columns)
    one_fuse = kind == "lamp" or (kind == "coil" and rng.random() < 0.6) or (kind == "switch" and volts == 12)
    lines: dict[str, Conductor] = {}
    large = rows > 32  # then the counts of the rows' chips would run into those of the columns
    of_rows = ("r", rows, "Q1", "U3" if large else "U", "X3" if large else "X")
    for side, count, drivers, chip, plug in (("c", columns, "Q2", "U1", "X1"), of_rows):
        relay = kind == "coil" and side == "c"
        with_driver = side == "c" or kind != "switch"
        chips = _shares(count, rng.choice((4, 8)))
        plugs = _shares(count, count if relay else rng.choice((4, 5, 7, 8, count)))
        for i in range(1, count + 1):
            path = [f"{chip}{chips[i - 1][0]}-{chips[i - 1][1]}", f"{plug}{plugs[i - 1][0]}-{plugs[i - 1][1]}"]
            if with_driver:
                path.insert(1, f"{drivers}{i:02d}")
            at = 1 if side == "c" else 0
            chain = [place for place in fitted if place[at] == i]
            rng.shuffle(chain)
            if rng.random() < 0.2:
                chain.sort()
            lines[f"{side}{i}"] = Conductor(
                f"{side}{i}",
                tuple(path[-1:] if relay else path),
                tuple(chain),
                (f"F{i}",) if relay and not one_fuse else (),
                ("rest", "pulled")[i - 1] if relay else None,
            )
    notes = _notes(rng, kind, volts, fitted)
    supply = ("F9",) if one_fuse else ()
    return Bank("m", kind, float(volts), rows, columns, frozenset(fitted), lines, supply, notes=notes)


def _draw_inputs(rng: random.Random) -> Bank:
    """Direct inputs: one common column at ground, each row with a path of its own."""
    rows = rng.randint(4, 10)
    fitted = [(row, 1) for row in range(1, rows + 1)]
    pins = _shares(rows, rng.choice((4, 8)))
    chain = rng.sample(fitted, rows)
    lines = {"c1": Conductor("c1", ("X17-1",), tuple(chain))}
    for row in range(1, rows + 1):
        chip, pin = pins[row - 1]
        lines[f"r{row}"] = Conductor(f"r{row}", (f"U{chip}-{pin}", f"X13-{row}"), ((row, 1),))
    return Bank("m", "switch", 5.0, rows, 1, frozenset(fitted), lines, diodes=False, shared=False)


def _draw_strings(rng: random.Random) -> Bank:
    """Lighting strings: two to five columns, each with its fuse and plug; a relay feeds one or two of them."""
    rows, columns = rng.randint(4, 12), rng.randint(2, 5)
    lengths = [rng.randint(3, rows) for _ in range(columns - 1)] + [rows]
    fitted = [(row, column) for column, length in enumerate(lengths, 1) for row in range(1, length + 1)]
    lines = {}
    for column in range(1, columns + 1):
        chain = [place for place in fitted if place[1] == column]
        rng.shuffle(chain)
        path = (f"K{2 + (column - 1) // 2}", f"X{column}-1")
        lines[f"c{column}"] = Conductor(f"c{column}", path, tuple(chain), (f"F{column}",))
    return Bank("m", "lamp", 6.3, rows, columns, frozenset(fitted), lines, diodes=False, shared=False)


def _fitted(rng: random.Random, rows: int, columns: int) -> list[Place]:
    share = rng.choice((0.0, 0.05, 0.15, 0.25))
    places = [(r, c) for r in range(1, rows + 1) for c in range(1, columns + 1)]
    found = [place for place in places if rng.random() >= share]
    for side, count in ((0, rows), (1, columns)):  # no line without any cell
        for i in range(1, count + 1):
            if not any(place[side] == i for place in found):
                found.append(rng.choice([place for place in places if place[side] == i]))
    return sorted(set(found))


def _shares(count: int, each: int) -> list[tuple[int, int]]:
    return [(i // each + 1, i % each + 1) for i in range(count)]


def _notes(rng: random.Random, kind: str, volts: float, fitted: list[Place]) -> dict[Place, dict[str, Any]]:
    if kind == "lamp":
        share = rng.choice((0.0, 0.0, 0.1, 0.2, 0.5, 1.0))
        return {place: {"fitted": "led"} for place in fitted if rng.random() < share}
    if kind == "coil" and rng.random() < 0.7:
        ohms = round(volts * rng.uniform(12.5, 19))
        warm = {"ohms": ohms, "volts": int(volts)}
        led = rng.choice((0.0, 0.5, 1.0))
        chosen = rng.sample(fitted, min(len(fitted), rng.randint(1, 5)))
        return {
            place: {
                "fitted": "led" if rng.random() < led else "filament",
                "device": "flash lamp",
                "keep_warm": warm,
            }
            for place in chosen
        }
    return {}


def layout_text(bank: Bank, known: frozenset[str]) -> str:
    """Write the bank as a layout file that gives the chains of the `known` lines only."""
    return machine_text([(bank, known)])


def machine_text(banks: Iterable[tuple[Bank, frozenset[str]]]) -> str:
    """Write banks as one layout file, each with the lines whose chains it gives."""
    return "".join(['format = 1\nname = "an invented bank"\n', *(_matrix_text(*each) for each in banks)])


def _matrix_text(bank: Bank, known: frozenset[str]) -> str:
    def number(place: Place) -> int:
        return (place[1] - 1) * bank.rows + place[0]

    def listed(values: tuple[str, ...]) -> str:
        return "[" + ", ".join(f'"{value}"' for value in values) + "]"

    names = [
        tuple(f"cell {r} {c}" if (r, c) in bank.fitted else "" for c in range(1, bank.columns + 1))
        for r in range(1, bank.rows + 1)
    ]
    text = ["", "[[matrix]]", f'id = "{bank.id}"', f'kind = "{bank.kind}"']
    text += ['numbering = "down-columns"', f'strobe = "{bank.strobe}"', f"volts = {bank.volts:g}"]
    if not bank.shared:
        text.append("rows_shared = false")
    elif not bank.diodes:
        text.append("diodes = false")
    if bank.supply:
        text.append(f"supply = {listed(bank.supply)}")
    text.append("cells = [" + ",\n  ".join(listed(row) for row in names) + "]")
    for key, line in bank.lines.items():
        text += ["", f"  [[matrix.{'column' if line.is_column else 'row'}]]", f'  label = "{key[1:]}"']
        text.append(f"  path = {listed(line.path)}")
        if line.when:
            text += ['  select = "K1"', f'  when = "{line.when}"']
        if line.supply:
            text.append(f"  supply = {listed(line.supply)}")
        if key in known and line.chain:
            text.append("  chain = [" + ", ".join(str(number(place)) for place in line.chain) + "]")
    for place, note in sorted(bank.notes.items()):
        text += ["", f"  [matrix.cell.{number(place)}]  # {address(place)}"]
        if "fitted" in note:
            text.append(f'  fitted = "{note["fitted"]}"')
        if "rest" in note:
            text.append(f'  rest = "{note["rest"]}"')
        if "ohms" in note:
            text += [f"  ohms = {note['ohms']}", f"  tolerance = {note['tolerance']}"]
        if "keep_warm" in note:
            warm = note["keep_warm"]
            text += ['  device = "flash lamp"', f"  keep_warm = {{ohms = {warm['ohms']}, volts = {warm['volts']}}}"]
    return "\n".join(text) + "\n"
