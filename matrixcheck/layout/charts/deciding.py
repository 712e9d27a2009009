"""From what charts say to the data of a layout: every open question answered, every value with its place kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.drafts import CellDraft, Facts, Given, LineDraft, MatrixDraft, Note, Understood
from matrixcheck.layout.charts.part_names import parts_of
from matrixcheck.layout.charts.questions import Answers, Question
from matrixcheck.layout.charts.spots import Spot
from matrixcheck.layout.charts.values import in_path_order, plain_number
from matrixcheck.layout.charts.words import is_generic
from matrixcheck.layout.numbering import SCHEMES, Number, Numbering, natural_order, number_of
from matrixcheck.layout.problems import Loc, shown
from matrixcheck.layout.raw import Place, Table
from matrixcheck.layout.wire_words import read_wires
from matrixcheck.layout.wires import COLOURS

_NOTES = ("zone", "reach", "rest", "device", "fitted")


@dataclass
class Decided:
    """The data of a layout, the place in a chart of each of its places, and the matrices it was made of."""

    data: Table = field(default_factory=dict)
    spots: dict[Loc, Spot] = field(default_factory=dict)
    drafts: list[MatrixDraft] = field(default_factory=list)
    titles: list[Given] = field(default_factory=list)
    left_over: list[Note] = field(default_factory=list)
    guessed: list[Note] = field(default_factory=list)


class _Deciding(NamedTuple):
    """What decisions are made with: the code of each printed wire, who answers, and what is made."""

    wires: dict[Given, str]
    answers: Answers
    made: Decided


def decide(understood: Understood, drafts: Sequence[MatrixDraft], name: str | None, answers: Answers) -> Decided:
    """Return the data of the layout that charts give together."""
    decided = Decided(
        drafts=list(drafts), titles=understood.titles, left_over=understood.left_over, guessed=understood.guessed
    )
    decided.data = {"format": 1, "name": name or _name(understood, answers)}
    deciding = _Deciding(_wires(drafts, answers), answers, decided)
    matrices = [_matrix(draft, place, deciding) for place, draft in enumerate(drafts)]
    said = {
        ref: {name: text for name in facts if (text := _picked(facts, name, ref, answers))}
        for ref, facts in understood.parts.items()
    }
    parts = list(parts_of(understood, matrices, said))
    if parts:
        decided.data["part"] = parts
    decided.data["matrix"] = matrices
    return decided


def _name(understood: Understood, answers: Answers) -> str:
    if understood.machine and understood.machine.value:
        return understood.machine.value
    titles = [given for given in understood.titles if not is_generic(given.value)]
    first = titles[0] if titles else Given("Machine without a name", Spot("no chart", 0))
    return answers.to(Question("name", "the machine's name", (), first.value)) or first.value


def _matrix(draft: MatrixDraft, place: int, deciding: _Deciding) -> Table:
    answers, decided = deciding.answers, deciding.made
    loc: Loc = ("matrix", place)
    decided.spots[loc] = draft.spot
    rows, columns = len(draft.rows), len(draft.columns)
    kind = str(draft.kind or "switch")
    table: Table = {"id": draft.id, "kind": kind} | _matrix_facts(draft)
    scheme, numbers = _numbering(draft, answers)
    table["numbering"] = scheme
    strobe = draft.strobe or (_strobe(draft) if draft.shared else "")
    if strobe == "row":
        table["strobe"] = strobe
    if not draft.shared:
        table["rows_shared"] = False
    if scheme == "listed":
        table["numbers"] = [[numbers.get((row, column), "") for column in range(columns)] for row in range(rows)]
    picked = {
        at: _picked(cell.facts, "name", f"{draft.id}.{numbers.get(at, '')}", answers) or cell.stand_in
        for at, cell in draft.cells.items()
    }
    table["cells"] = [[picked.get((row, column), "") for column in range(columns)] for row in range(rows)]
    for (row, column), cell in draft.cells.items():
        decided.spots[*loc, "cells", row, column] = cell.spot
        decided.spots[*loc, "numbers", row, column] = cell.spot
    for side in ("column", "row"):
        lines = [
            _line(line, (draft, side, at), (*loc, side, at), deciding) for at, line in enumerate(draft.lines(side))
        ]
        if side == "row" and not draft.shared and columns > 1:
            lines = [{key: line[key] for key in ("label", "name") if key in line} for line in lines]
        if any(line.keys() - {"label"} for line in lines) or any(
            line.get("label", str(at)) != str(at) for at, line in enumerate(lines, 1)
        ):
            table[side] = lines
    notes = _notes(draft, numbers, picked, loc, deciding)
    return table | ({"cell": notes} if notes else {})


def _matrix_facts(draft: MatrixDraft) -> Table:
    """Return what a chart says of the whole matrix: above an exported one, or in a list for all lines alike."""
    facts = {name: givens[0] for name, givens in draft.facts.items() if givens}
    table: Table = {"name": facts["name"].value} if "name" in facts else {}
    if "diodes" in facts:
        table["diodes"] = facts["diodes"].value == "yes"
    if "volts" in facts:
        table["volts"] = _volts(facts["volts"])
    if "supply" in facts:
        table["supply"] = facts["supply"].value.split()
    return table


def _volts(given: Given) -> float:
    try:
        return float(given.value)
    except ValueError:
        raise InputError(f"{given.spot}: {shown(given.value)} is not a number of volts", "put it right") from None


def _strobe(draft: MatrixDraft) -> str:
    """Return the side that is driven where only one has transistors."""
    driven = {
        side: any(ref.value[0] == "Q" for line in draft.lines(side) for ref in line.refs) for side in ("column", "row")
    }
    return "row" if draft.kind == "switch" and driven["row"] and not driven["column"] else ""


def _numbering(draft: MatrixDraft, answers: Answers) -> tuple[Numbering, dict[Place, Number]]:
    """Return the scheme of a matrix and the number of each place that a chart fills or numbers."""
    rows, columns = len(draft.rows), len(draft.columns)
    given = {at: cell.number for at, cell in draft.cells.items() if cell.number is not None}

    def by(scheme: Numbering) -> dict[Place, Number]:
        places = ((row, column) for row in range(rows) for column in range(columns))
        return {(row, column): number_of(scheme, row + 1, column + 1, rows, columns) for row, column in places}

    if not given:
        best: Numbering = "column-then-row" if draft.shape == "lighting strings" else "down-columns"
        across, down = (2, 1) if columns > 1 else (1, min(2, rows))
        calls = ", ".join(f"{number_of(scheme, down, across, rows, columns)} for {scheme}" for scheme in SCHEMES)
        text = f"no number is printed; what does the test call column {across}, row {down} of {draft.id}? {calls}"
        taken = answers.to(Question(f"numbering.{draft.id}", text, SCHEMES, best))
        scheme = next(one for one in SCHEMES if one == taken)
        return scheme, by(scheme)
    said = [fact.value for fact in draft.facts.get("numbering", [])]
    for scheme in sorted(SCHEMES, key=lambda scheme: scheme not in said):
        if said == ["listed"]:
            break
        numbers = by(scheme)
        if all(numbers[at] == number for at, number in given.items()):
            return scheme, numbers
    free = max((number for number in given.values() if isinstance(number, int)), default=0)
    for at, cell in sorted(draft.cells.items()):
        if at not in given and cell.facts.get("name"):
            free += 1
            text = f"{cell.spot}: the number of {shown(cell.facts['name'][0].value)}"
            given[at] = _as_number(
                answers.to(Question(f"number.{draft.id}.r{at[0] + 1}c{at[1] + 1}", text, (), str(free)))
            )
    return "listed", dict(given)


def _as_number(text: str) -> Number:
    return int(text) if text.isdecimal() else text.upper()


def _line(line: LineDraft, where: tuple[MatrixDraft, str, int], loc: Loc, deciding: _Deciding) -> Table:
    answers, decided = deciding.answers, deciding.made
    draft, side, at = where
    key = f"{draft.id}.{side[0]}{at + 1}"
    table: Table = {"label": line.label or str(at + 1)}
    if name := _picked(line.facts, "name", key, answers):
        table["name"] = name
    givens = line.facts.get("wire", [])
    colours = {deciding.wires[given]: given for given in reversed(givens) if deciding.wires.get(given)}
    if colours:
        table["wire"] = _one_of(list(reversed(colours.items())), "wire", key, answers)
    refs = [ref.value for ref in line.refs]
    path = refs if line.ordered else in_path_order(refs)
    if path:
        table["path"] = path
    supply = [given.value for given in line.facts.get("supply", [])]
    if supply:
        table["supply"] = supply
    if line.facts.get("select"):
        table["select"] = _picked(line.facts, "select", key, answers)
        table["when"] = _picked(line.facts, "when", key, answers)
    elif side == "column" and draft.relay:
        table["select"] = draft.relay
        whens = [given.value for given in line.facts.get("when", [])]
        text = f"{key}: in which position of {draft.relay} is {shown(line.label)} selected?"
        best = whens[0] if whens else ("rest" if at == 0 else "pulled")
        table["when"] = best if whens else answers.to(Question(f"when.{key}", text, ("rest", "pulled"), best))
    for name, facts in (("wire", givens), ("path", line.refs), ("supply", line.facts.get("supply", []))):
        if facts:
            decided.spots[*loc, name] = facts[0].spot
            decided.spots[loc] = facts[0].spot
    for ref in line.refs:
        decided.spots[*loc, "path", path.index(ref.value)] = ref.spot
    return table


def _notes(
    draft: MatrixDraft, numbers: dict[Place, Number], picked: dict[Place, str], loc: Loc, deciding: _Deciding
) -> Table:
    notes: Table = {}
    for at, cell in sorted(draft.cells.items(), key=lambda item: natural_order(numbers.get(item[0], 0))):
        note = _note(cell, f"{draft.id}.{numbers.get(at, '')}", deciding.answers)
        if note and picked.get(at):
            notes[str(numbers[at])] = note
            deciding.made.spots[*loc, "cell", str(numbers[at])] = cell.spot
    return notes


def _note(cell: CellDraft, key: str, answers: Answers) -> Table:
    note: Table = {}
    for name in _NOTES:
        if text := _picked(cell.facts, name, key, answers):
            note[name] = text
    if text := _picked(cell.facts, "ohms", key, answers):
        note["ohms"] = plain_number(text)
    return note


def _picked(facts: Facts, name: str, key: str, answers: Answers) -> str:
    """Return what a field holds; where two places of the charts differ, what is answered."""
    alike = {given.value.casefold(): given for given in reversed(facts.get(name, []))}
    return _one_of([(given.value, given) for given in reversed(alike.values())], name, key, answers)


def _one_of(values: Sequence[tuple[str, Given]], name: str, key: str, answers: Answers) -> str:
    if not values:
        return ""
    options = tuple(value for value, _ in values)
    if len(options) == 1:
        return options[0]
    sides = " or ".join(f"{shown(given.value)} ({given.spot})" for _, given in values)
    return answers.to(Question(f"{name}.{key}", f"the {name} of {key}: {sides}", options, options[0]))


def _wires(drafts: Sequence[MatrixDraft], answers: Answers) -> dict[Given, str]:
    """Return the code of each printed wire colour, "" where it was left out."""
    printed: dict[str, list[Given]] = {}
    for draft in drafts:
        for line in (*draft.columns, *draft.rows):
            for given in line.facts.get("wire", []):
                printed.setdefault(given.spot.chart, []).append(given)
    return {given: code for givens in printed.values() for given, code in _coded(givens, answers)}


def _coded(givens: Sequence[Given], answers: Answers) -> Iterator[tuple[Given, str]]:
    texts = [given.value for given in givens]
    settled: dict[str, str] = {}
    for text, reading in read_wires(texts, {}).items():
        for word, codes in reading.unsure:
            spot = next(given.spot for given in givens if given.value == text)
            meant = " or ".join(COLOURS[code] for code in codes) or "no colour that is known"
            which = " or ".join(codes) or "which code"
            question = Question(
                f"wire.{word.upper()}",
                f"{spot}: in {shown(text)}, {word.upper()} is {meant}: {which}?",
                (*COLOURS, ""),
                "",
            )
            settled[word] = answers.to(question)
    chosen = {word: code for word, code in settled.items() if code}
    again = read_wires(texts, chosen)
    return ((given, again[given.value].wire or _whole(given.value, chosen)) for given in givens)


def _whole(text: str, chosen: dict[str, str]) -> str:
    """Return what was said of a printed colour that can't be parted into words."""
    return chosen.get(text.casefold(), "")
