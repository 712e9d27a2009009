"""Charts of any style: a matrix drawn at random and printed as manuals do gives that matrix, whatever the style.

How manuals print is common practice, no source. The printers here know nothing of the importer.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.layout.charts.importing import import_charts
from matrixcheck.layout.charts.questions import Answers
from matrixcheck.layout.charts.sheets import text_sheet
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.numbering import SCHEMES, number_of

NAMES = [
    "left lane", "RIGHT SLING", "stop 3", "gull nest", "x-ball", "end of stroke 2", "Bonus 2x", "3 bank target", "tilt",
    "U-turn", "shoot again", "eject hole (upper)", "letter B", "coin 1/2", "100 points", "red arrow", "top", "Q",
    "beam A", "no good",
]  # fmt: skip
SPELT = {
    "GN": ["GRN", "green", "Grn"], "BN": ["BRN", "brown", "Brn"], "RD": ["RED", "red", "Red"],
    "OG": ["ORN", "orange", "Orn"], "YE": ["YEL", "yellow", "Yel"], "BK": ["BLK", "black", "Blk"],
    "BU": ["BLU", "blue", "Blu"], "WH": ["WHT", "white", "Wht"], "VT": ["VIO", "violet", "Vio"],
    "GY": ["GRY", "grey", "Gry"],
}  # fmt: skip
WORDS = {
    "wire": ["Wire", "Wire colour", "COLOR"],
    "driver": ["Driver", "Transistor", "Drive transistor"],
    "chip": ["Chip", "IC"],
    "plug": ["Plug", "Plug pin", "Connector", "PIN"],
}
UNUSED = ["", "-", "NOT USED", "spare", "n/a", "--"]
KINDS = {"switch": "Switch matrix", "lamp": "LAMPS"}


@dataclass
class Drawn:
    """A matrix to be printed: `lines[side][i]` has what is printed of a line, `due` is the layout that it must give."""

    due: dict[str, Any]
    lines: dict[str, list[dict[str, str]]]
    numbers: list[list[int]]


@st.composite
def matrices(draw: st.DrawFn) -> Drawn:
    rows, columns = draw(st.integers(2, 6)), draw(st.integers(2, 6))
    scheme = draw(st.sampled_from(SCHEMES))
    names = draw(st.permutations([*NAMES, *(f"upper {name}" for name in NAMES)]))
    gaps = draw(st.sets(st.integers(0, rows * columns - 1), max_size=min(3, rows * columns - 3)))
    cells = [
        ["" if row * columns + column in gaps else names[row * columns + column] for column in range(columns)]
        for row in range(rows)
    ]
    kind = draw(st.sampled_from(list(KINDS)))
    way = draw(st.integers(0, 2))
    mark = draw(st.sampled_from(["-", "/", " "]))
    given_facts = draw(st.sets(st.sampled_from(["wire", "driver", "chip", "plug"])))
    sides, lines = {}, {}
    for side, count, base in (("column", columns, "GN"), ("row", rows, "WH")):
        tracers = [code for code in SPELT if code != base][:count]
        facts = [
            {
                "wire": f"{base}/{tracer}",
                "chip": f"U{count}-{place}",
                "driver": f"Q{count}{place}",
                "plug": f"J{count}-{place}",
            }
            for place, tracer in enumerate(tracers, 1)
        ]
        if side == "row":
            facts = [
                {key: value.replace("U", "U9").replace("Q", "Q9").replace("J", "J9") for key, value in one.items()}
                for one in facts
            ]
        own = given_facts if side == "column" else given_facts - {"driver"}
        sides[side] = [
            {"label": str(place)}
            | ({"wire": fact["wire"]} if "wire" in own else {})
            | ({"path": [fact[key] for key in ("chip", "driver", "plug") if key in own]} if own - {"wire"} else {})
            for place, fact in enumerate(facts, 1)
        ]
        lines[side] = [
            {
                key: mark.join(SPELT[code][way] for code in fact[key].split("/")) if key == "wire" else fact[key]
                for key in sorted(own)
            }
            for fact in facts
        ]
    table = {
        "id": {"switch": "switches", "lamp": "lamps"}[kind],
        "kind": kind,
        "numbering": scheme,
        "cells": cells,
        **sides,
    }
    numbers = [
        [number_of(scheme, row, column, rows, columns) for column in range(1, columns + 1)]
        for row in range(1, rows + 1)
    ]
    return Drawn(table, lines, numbers)


def entry(draw: st.DrawFn, drawn: Drawn, place: tuple[int, int], numbered: bool, style: str) -> str:
    row, column = place
    name, number = drawn.due["cells"][row][column], drawn.numbers[row][column]
    unused = draw(st.sampled_from(UNUSED))
    if not numbered:
        return name or unused
    return (
        style.format(number=number, name=name) if name else f"{number} {unused}" if draw(st.booleans()) else unused
    ).strip()


@st.composite
def grids(draw: st.DrawFn) -> tuple[Drawn, list[list[str]], bool]:
    """A grid with headings in rows and columns of their own, or all in one entry."""
    drawn = draw(matrices())
    numbered, together = draw(st.booleans()), draw(st.booleans())
    style = draw(st.sampled_from(["{number} {name}", "{number}. {name}", "{number}\n{name}", "{name}\n{number}"]))
    body = [
        [entry(draw, drawn, (row, column), numbered, style) for column in range(len(drawn.lines["column"]))]
        for row in range(len(drawn.lines["row"]))
    ]
    title = [[KINDS[drawn.due["kind"]]]]
    if together:
        glue = draw(st.sampled_from([", ", "\n", " / "]))
        heads = {
            side: [
                glue.join([f"{side.title()} {place}", *(fact[key] for key in draw(st.permutations(list(fact))))])
                for place, fact in enumerate(drawn.lines[side], 1)
            ]
            for side in ("column", "row")
        }
        return (
            drawn,
            [*title, ["", *heads["column"]], *([head, *row] for head, row in zip(heads["row"], body, strict=True))],
            numbered,
        )
    left = draw(st.permutations(list(drawn.lines["row"][0])))
    before = [""] * len(left)
    table = [[*before, "Column", *(str(place) for place in range(1, len(body[0]) + 1))]]
    for key in draw(st.permutations(list(drawn.lines["column"][0]))):
        table.append([*before, draw(st.sampled_from(WORDS[key])), *(fact[key] for fact in drawn.lines["column"])])
    if left:
        table.append(["Row", *(draw(st.sampled_from(WORDS[key])) for key in left)])
    for place, row in enumerate(body):
        fact = drawn.lines["row"][place]
        table.append([str(place + 1), *(fact[key] for key in left), *row])
    return drawn, title + table, numbered


@st.composite
def lists(draw: st.DrawFn) -> tuple[Drawn, list[list[str]], bool]:
    """A list of devices, its columns in any order, with what is known of their column and row in each line."""
    drawn = draw(matrices())
    fields: dict[str, list[str]] = {
        draw(st.sampled_from(["No.", "#", "Number"])): [],
        draw(st.sampled_from(["Name", "Description"])): [],
    }
    number, name = fields
    column, row = draw(st.sampled_from([("Column", "Row"), ("Col", "Row"), ("Strobe", "Return")]))
    fields |= {column: [], row: []}
    fields |= {
        f"{side.title()} {WORDS[key][0].lower()}": [] for side in ("column", "row") for key in drawn.lines[side][0]
    }
    for r in range(len(drawn.lines["row"])):
        for c in range(len(drawn.lines["column"])):
            fields[number].append(str(drawn.numbers[r][c]))
            fields[name].append(drawn.due["cells"][r][c] or draw(st.sampled_from(UNUSED[1:])))
            fields[column].append(str(c + 1))
            fields[row].append(str(r + 1))
            for side, at in (("column", c), ("row", r)):
                for key, value in drawn.lines[side][at].items():
                    fields[f"{side.title()} {WORDS[key][0].lower()}"].append(value)
    order = draw(st.permutations(list(fields)))
    lines = draw(st.permutations(range(len(fields[number]))))
    return (
        drawn,
        [[KINDS[drawn.due["kind"]]], list(order), *([fields[one][line] for one in order] for line in lines)],
        True,
    )


def gives_it_back(drawn: Drawn, table: list[list[str]], numbered: bool, mark: str) -> None:
    text = io.StringIO()
    csv.writer(text, delimiter=mark).writerows(table)
    answers = {} if numbered else {f"numbering.{drawn.due['id']}": drawn.due["numbering"]}
    found = import_charts([text_sheet(text.getvalue(), "chart")], "Invented", Answers(answers), "made.toml")
    assert [str(problem) for problem, _ in found.problems] == []
    assert [guess.question.text for guess in found.guesses] == []
    assert [str(note) for note in found.decided.left_over] == []
    due = layout_in({"format": 1, "name": "Invented", "matrix": [drawn.due]}).matrices[0]
    made = layout_in(found.decided.data).matrices[0]
    assert (made.id, made.kind, made.cells) == (due.id, due.kind, due.cells)
    assert [cell.number for cell in made.fitted] == [cell.number for cell in due.fitted]
    assert (made.columns, made.rows) == (due.columns, due.rows)


@given(grids(), st.sampled_from(",;\t"))
@settings(max_examples=40)
def test_a_grid_of_any_style_gives_its_matrix(grid: tuple[Drawn, list[list[str]], bool], mark: str) -> None:
    gives_it_back(*grid, mark)


@given(lists(), st.sampled_from(",;\t"))
@settings(max_examples=30)
def test_a_list_in_any_order_gives_its_matrix(table: tuple[Drawn, list[list[str]], bool], mark: str) -> None:
    gives_it_back(*table, mark)
