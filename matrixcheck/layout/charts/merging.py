"""Several charts of one matrix made one: cells by their numbers, lines by the cells that they have in common."""

from __future__ import annotations

from collections import Counter

from matrixcheck.layout.charts.drafts import Facts, LineDraft, MatrixDraft, Note, Understood, add
from matrixcheck.layout.charts.kinds import asked_kind
from matrixcheck.layout.charts.placing import adds_to_known, is_part_list, place_list
from matrixcheck.layout.charts.questions import Answers

_IDS = {"direct inputs": {"switch": "inputs"}, "lighting strings": {"lamp": "lighting"}}


def merged(understood: Understood, answers: Answers) -> list[MatrixDraft]:
    """Return the matrices that the charts give together, the grids first; each has an id."""
    drafts: list[MatrixDraft] = []
    for grid in understood.grids:
        _take_in(grid, drafts, understood)
    placed = sorted(understood.lists, key=lambda listing: not {("column", ""), ("row", "")} <= listing.fields)
    for listing in placed:
        if is_part_list(listing):
            continue
        if listing.kind is None and not adds_to_known(listing, drafts):
            listing.kind = asked_kind(listing.spot.chart, listing.chart, answers)
        draft = place_list(listing, drafts, understood)
        if draft is not None:
            _take_in(draft, drafts, understood)
    drafts.sort(key=lambda draft: draft.chart)
    _name(drafts)
    return drafts


def _take_in(draft: MatrixDraft, drafts: list[MatrixDraft], understood: Understood) -> None:
    for known in drafts:
        if _same_matrix(known, draft):
            _join(known, draft, understood)
            return
    drafts.append(draft)


def _same_matrix(one: MatrixDraft, other: MatrixDraft) -> bool:
    """Return whether two charts are of one matrix: of one kind, most numbers and names alike."""
    if one.kind != other.kind or (one.id and other.id and one.id != other.id):
        return False
    numbers = set(one.by_number) & set(other.by_number)
    least = min(len(one.by_number), len(other.by_number))
    own, others = one.by_number, other.by_number
    names = [(_name_at(one, own[number]), _name_at(other, others[number])) for number in numbers]
    alike = sum(name == printed or not (name and printed) for name, printed in names)
    return least > 0 and len(numbers) * 2 > least and alike * 2 >= len(numbers)


def _name_at(draft: MatrixDraft, place: tuple[int, int]) -> str:
    names = draft.cells[place].facts.get("name", [])
    return names[0].value.casefold() if names else ""


def _join(known: MatrixDraft, draft: MatrixDraft, understood: Understood) -> None:
    where = known.by_number
    lines: dict[str, dict[int, Counter[int]]] = {"column": {}, "row": {}}
    for place, cell in draft.cells.items():
        at = where.get(cell.number) if cell.number is not None else None
        if at is None:
            if cell.facts.get("name"):
                text = f"{cell.number or 'no number'} '{cell.facts['name'][0].value}': no other chart has that number"
                understood.left_over.append(Note(cell.spot, text))
            continue
        _gather(known.cells[at].facts, cell.facts)
        for side, own, other in (("row", place[0], at[0]), ("column", place[1], at[1])):
            lines[side].setdefault(own, Counter())[other] += 1
    for side, found in lines.items():
        for own, others in found.items():
            other, _ = others.most_common(1)[0]
            _gather_line(known.lines(side)[other], draft.lines(side)[own])
            if len(others) > 1:
                text = (
                    f"the cells of {side} {draft.lines(side)[own].label} lie on several {side}s of {known.spot.chart}"
                )
                understood.guessed.append(Note(draft.spot, text))
    known.relay = known.relay or draft.relay
    known.strobe = known.strobe or draft.strobe


def _gather(facts: Facts, more: Facts) -> None:
    for name, givens in more.items():
        for given in givens:
            add(facts, name, given.value, given.spot)


def _gather_line(line: LineDraft, more: LineDraft) -> None:
    _gather(line.facts, more.facts)
    known = {given.value for given in line.refs}
    line.refs += [given for given in more.refs if given.value not in known]


def _name(drafts: list[MatrixDraft]) -> None:
    taken: set[str] = set()
    for draft in drafts:
        kind = str(draft.kind or "switch")
        usual = f"{kind}es" if kind == "switch" else f"{kind}s"
        name = draft.id or _IDS.get(draft.shape, {}).get(kind, usual)
        count = 2
        fresh = name
        while fresh in taken:
            fresh, count = f"{name}{count}", count + 1
        taken.add(fresh)
        draft.id = fresh
