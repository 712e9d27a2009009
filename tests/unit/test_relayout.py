"""A job that goes on with another layout of its machine: nothing is lost, and every way back gives what there was."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from record_case import BATCHES, LAYOUT, START, marked, read, recorded

from matrixcheck.diagnosis.attempt import attempts
from matrixcheck.layout.files import flaws_in, layout_from, parse_layout
from matrixcheck.layout.frozen import to_json
from matrixcheck.layout.matching import matched, places_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Mark
from matrixcheck.layout.source import source_of
from matrixcheck.record.copying import renumbered
from matrixcheck.record.differences import differences, said
from matrixcheck.record.events import (
    Accepted,
    Deferred,
    Event,
    Found,
    Read,
    Recorded,
    Repaired,
    Restored,
    RoundStarted,
    Withdrawn,
    body_of,
    event_from,
)
from matrixcheck.record.job_files import job_text, read_job
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import advance, replay
from matrixcheck.record.strikes import strike_of
from matrixcheck.record.summary import coverage_of, kept_without_cell, later_list, log_lines
from matrixcheck.record.versions import relaid
from matrixcheck.report.repair_results import repair_results


def changed(layout: Layout, source: random.Random, count: int) -> Layout:
    """The layout with some things put right: cells renamed, renumbered, exchanged, taken out, fitted; lines dropped."""
    data = json.loads(to_json(layout))
    for matrix in data["matrix"]:
        own = layout.matrix(matrix["id"])
        rows, columns = own.size
        matrix["numbering"] = "listed"
        matrix["numbers"] = [
            [own.number_at(row, column) or 0 for column in range(1, columns + 1)] for row in range(1, rows + 1)
        ]
        matrix.pop("cell", None)
        matrix.pop("walk", None)
        for line in (*matrix.get("column", ()), *matrix.get("row", ())):
            line.pop("chain", None)
    for _ in range(count):
        before = json.dumps(data)
        _change_once(data, source)
        if flaws_in(data):
            data = json.loads(before)
    return layout_from(data, "changed")


def _change_once(data: Any, source: random.Random) -> None:
    matrix = source.choice(data["matrix"])
    grids = cells, numbers = matrix["cells"], matrix["numbers"]
    places = [(row, column) for row in range(len(cells)) for column in range(len(cells[0]))]
    (row, column), (other, its) = source.choice(places), source.choice(places)
    match source.choice(["name", "number", "exchange", "swap", "out", "fit", "row", "column", "matrix"]):
        case "name":
            cells[row][column] = cells[row][column] and source.choice(["a new name", "gull", "crab"])
        case "number":
            numbers[row][column] = source.choice([91, 92, "9L"])
        case "swap":
            numbers[row][column], numbers[other][its] = numbers[other][its], numbers[row][column]
        case "exchange":
            for grid in grids:
                grid[row][column], grid[other][its] = grid[other][its], grid[row][column]
        case "out":
            cells[row][column] = ""
        case "fit":
            cells[row][column] = cells[row][column] or "found behind"
        case "row" | "column" as side:
            _drop(matrix, side, row if side == "row" else column)
        case "matrix":
            _change_matrix(data, matrix, source)


def _drop(matrix: Any, side: str, place: int) -> None:
    for grid in (matrix["cells"], matrix["numbers"]):
        for line in [grid] if side == "row" else grid:
            del line[place]
    count = len(matrix["cells"]) if side == "row" else len(matrix["cells"][0])
    matrix[side] = matrix.get(side, [])[:count]


def _change_matrix(data: Any, matrix: Any, source: random.Random) -> None:
    if source.random() < 0.5:
        data["matrix"].remove(matrix)
    else:
        matrix[source.choice(["id", "name"])] = "other"


layouts = st.builds(
    lambda seed, count: changed(LAYOUT, random.Random(seed), count), st.integers(0, 2**32), st.integers(0, 6)
)


def on(events: Sequence[Recorded], *added: Event) -> tuple[Recorded, ...]:
    """The events of a job with further ones, each a batch of its own."""
    found = list(events)
    for event in added:
        seq = found[-1].seq + 1
        found.append(Recorded(seq, "job1", seq, START + timedelta(seconds=seq), event))
    return tuple(found)


def laid(events: Sequence[Recorded], layout: Layout) -> tuple[Recorded, ...]:
    """The events of a job that then goes on with another layout."""
    return on(events, relaid(events, layout, source_of(Path("x"), b"")))


def what_stands(state: JobState) -> JobState:
    """The state without what only counts events."""
    return replace(state, seq=0, history=(), struck=(), recorded=(), source=replace(state.source, file="", digest=""))


def readings_of(events: Sequence[Recorded]) -> set[int]:
    return {one.seq for one in events if isinstance(one.event, Read)}


@given(st.lists(BATCHES, max_size=8), layouts)
@settings(max_examples=40)
def test_a_relayout_never_loses_a_reading(batches: list[tuple[Event, ...]], other: Layout) -> None:
    events = recorded(*batches)
    after = replay(laid(events, other))
    with_cell, apart = readings_of(after.history), readings_of([one.recorded for one in after.without_cell])
    assert with_cell | apart == readings_of(events)
    assert with_cell.isdisjoint(apart)
    assert after.layout == other
    seen = [one for standing in after.standings.values() for one in standing.seen]
    assert {one.seq for one in seen} <= with_cell
    fitted = {key for matrix in other.matrices for key in matrix.by_key}
    assert after.standings.keys() == fitted
    assert all(one.reading.cell in fitted for one in seen)
    named = {line.seq for line in log_lines(laid(events, other)) if line.text.endswith("kept without a cell")}
    assert apart <= {events[number - 1].seq for number in named}


@given(st.lists(BATCHES, max_size=8), layouts)
@settings(max_examples=40)
def test_a_relayout_there_and_back_is_the_state_before(batches: list[tuple[Event, ...]], other: Layout) -> None:
    events = recorded(*batches)
    back = replay(laid(laid(events, other), LAYOUT))
    assert what_stands(back) == what_stands(replay(events))
    assert coverage_of(back) == coverage_of(replay(events))
    assert later_list(back) == later_list(replay(events))
    assert back.current == replay(events).current
    assert back.known == replay(events).known


@given(st.lists(BATCHES, max_size=8), layouts)
@settings(max_examples=40)
def test_the_undo_of_a_relayout_gives_all_back_and_its_redo_takes_it_again(
    batches: list[tuple[Event, ...]], other: Layout
) -> None:
    events = laid(recorded(*batches), other)
    undone = on(events, Withdrawn(batch=events[-1].batch))
    redone = on(undone, Restored(withdrawal=undone[-1].seq))
    before, after = replay(events[:-1]), replay(events)
    assert what_stands(advance(after, undone[-1:])) == what_stands(before)
    assert what_stands(advance(advance(after, undone[-1:]), redone[-1:])) == what_stands(after)


@st.composite
def evenings(draw: st.DrawFn) -> tuple[Recorded, ...]:
    """Any evening of readings, relayouts, undos of any entry, and redos of any undo, each as the layout then has it."""
    events = recorded(*draw(st.lists(BATCHES, max_size=4)))
    for _ in range(draw(st.integers(1, 8))):
        layout = replay(events).layout
        cells = [cell.key for matrix in layout.matrices for cell in matrix.fitted]
        undos = [one.seq for one in events if isinstance(one.event, Withdrawn)]
        kinds = ["read", "repair", "relayout", "undo", *(["redo"] if undos else [])]
        match draw(st.sampled_from(kinds)):
            case "read":
                cell = draw(st.sampled_from(cells))
                events = on(events, marked(cell, draw(st.sampled_from([Mark.WORKING, Mark.DEAD]))))
            case "repair":
                events = on(events, Repaired(place=draw(st.sampled_from([*map(str, cells), *layout.lines_through]))))
            case "relayout":
                base = draw(st.sampled_from([LAYOUT, layout]))
                events = laid(
                    events, changed(base, random.Random(draw(st.integers(0, 2**32))), draw(st.integers(0, 3)))
                )
            case "undo":
                batches = [one.batch for one in events if one.event.undoable]
                if batches:
                    events = on(events, Withdrawn(batch=draw(st.sampled_from(batches))))
            case "redo":
                events = on(events, Restored(withdrawal=draw(st.sampled_from(undos))))
    return events


@given(evenings())
@settings(max_examples=60)
def test_in_any_order_of_relayouts_undos_and_redos_every_reading_counts_or_is_named(
    events: tuple[Recorded, ...],
) -> None:
    state = replay(events)
    step = replay(events[:1])
    for one in events[1:]:
        step = advance(step, [one])
    assert what_stands(step) == what_stands(state)
    assert step.history == state.history
    apart = [one.recorded for one in state.without_cell]
    everywhere = (*state.history, *apart, *state.struck)
    assert sorted(one.seq for one in everywhere) == [one.seq for one in events]
    assert len(log_lines(events)) == len(events)
    kept = tuple(one._replace(event=event_from(one.event.kind, body_of(one.event))) for one in events)
    assert read_job(job_text(kept, {}), "file").events == renumbered(kept, 1)


@given(evenings())
@settings(max_examples=12)
def test_whatever_stands_can_be_analysed_told_and_struck_out(events: tuple[Recorded, ...]) -> None:
    state = replay(events)
    (found,) = attempts(state.layout, state.current, state.known, only_last=True)
    assert {one.cell for one in found.cells} == set(state.standings)
    assert len(repair_results(state)) == len(state.repairs)
    assert "\n" not in said(differences(replay(events[:-1]), state))
    for number, one in enumerate(events, 1):
        if one.event.undoable and one.seq not in {each.seq for each in state.struck}:
            assert not strike_of(state, number).back


@given(layouts, layouts)
@settings(max_examples=40)
def test_what_is_matched_one_way_is_matched_the_other_way(one: Layout, other: Layout) -> None:
    there, back = matched(one, other), matched(other, one)
    assert {now: place for place, now in there.items()} == back
    assert len(back) == len(there)
    assert set(there) <= set(places_in(one))


def pier(*lines: str, numbers: str = "") -> Layout:
    """A small matrix of switches, a row a line."""
    cells = ", ".join(f"[{', '.join(json.dumps(name) for name in line.split('|'))}]" for line in lines)
    listed = f'numbering = "listed"\nnumbers = {numbers}' if numbers else 'numbering = "row-then-column"'
    text = f'format = 1\nname = "Pier"\n[[matrix]]\nid = "switches"\nkind = "switch"\n{listed}\ncells = [{cells}]\n'
    return parse_layout(text, "pier")


@pytest.mark.parametrize(
    ("old", "new", "pairs"),
    [
        (pier("a|b", "c|d"), pier("a|x", "c|d"), {"r1c2": "r1c2"}),
        (pier("a|b", numbers="[[7, 8]]"), pier("b|a", numbers="[[8, 7]]"), {"r1c1": "r1c2", "r1c2": "r1c1"}),
        (pier("a|b", numbers="[[7, 8]]"), pier("a|b", numbers="[[8, 7]]"), {"r1c1": "r1c2", "r1c2": "r1c1"}),
        (pier("a|b", numbers="[[7, 8]]"), pier("x|a|b", numbers="[[6, 17, 18]]"), {"r1c1": "r1c2", "r1c2": "r1c3"}),
        (pier("a|b", numbers="[[7, 8]]"), pier("x|y", numbers="[[6, 5]]"), {"r1c1": "r1c1", "r1c2": "r1c2"}),
        (pier("a|a", numbers="[[7, 8]]"), pier("z|a", numbers="[[6, 5]]"), {"r1c1": "r1c1", "r1c2": "r1c2"}),
    ],
    ids=["same number", "number before place", "number before name", "name", "place", "a name twice is none"],
)
def test_cells_are_matched_by_number_then_name_then_place(old: Layout, new: Layout, pairs: dict[str, str]) -> None:
    found = matched(old, new)
    assert {place: found[f"switches.{place}"].partition(".")[2] for place in pairs} == pairs


def test_lines_go_with_their_cells() -> None:
    old = pier("a|b|c", "d|e|f", numbers="[[1, 2, 3], [4, 5, 6]]")
    new = pier("x|a|b|c", "y|d|e|f", numbers="[[0, 1, 2, 3], [9, 4, 5, 6]]".replace("0", "8"))
    found = matched(old, new)
    assert [found[f"switches.c{place}"] for place in (1, 2, 3)] == [f"switches.c{place}" for place in (2, 3, 4)]


GULL, CRAB = CellKey("switches", 1, 2), CellKey("switches", 2, 2)


def without(cell: CellKey) -> Layout:
    data = json.loads(to_json(LAYOUT))
    data["matrix"][0]["cells"][cell.row - 1][cell.column - 1] = ""
    return layout_from(data, "without")


def test_what_has_no_cell_any_more_is_kept_named_and_comes_back() -> None:
    events = recorded(marked(GULL, Mark.DEAD), Deferred(cell=GULL, reason="ball"), marked(CRAB, Mark.WORKING))
    gone = laid(events, without(GULL))
    state = replay(gone)
    number = LAYOUT.cell(GULL).number
    assert kept_without_cell(state) == (f"switch {number} (gull): 2 entries",)
    assert GULL not in state.standings
    assert state.standings[CRAB].mark is Mark.WORKING
    assert [line.text for line in log_lines(gone)][1] == f"switch {number} (gull) dead: kept without a cell"
    back = replay(laid(gone, LAYOUT))
    assert back.standings[GULL].mark is Mark.DEAD
    assert back.standings[GULL].deferred == "ball"
    assert kept_without_cell(back) == ()


def test_what_has_no_cell_any_more_goes_by_its_last_name() -> None:
    renamed = json.loads(to_json(LAYOUT))
    renamed["matrix"][0]["cells"][0][1] = "herring gull"
    events = laid(recorded(marked(GULL, Mark.DEAD)), layout_from(renamed, "renamed"))
    assert kept_without_cell(replay(laid(events, without(GULL)))) == ("switch 4 (herring gull): 1 entry",)
    undone = on(events, Withdrawn(batch=events[-1].batch))
    assert kept_without_cell(replay(laid(undone, without(GULL)))) == ("switch 4 (gull): 1 entry",)


def test_a_cell_that_comes_back_elsewhere_is_known_by_its_number() -> None:
    one, two = pier("a|b|", numbers="[[7, 8, 0]]"), pier("|b|", numbers="[[0, 8, 0]]")
    three = pier("new|b|a again", numbers="[[9, 8, 7]]")
    first = replay(recorded())
    opened = replace(first.history[0].event, layout=one)  # type: ignore[type-var]
    events = on((first.history[0]._replace(event=opened),), marked(CellKey("switches", 1, 1), Mark.DEAD))
    state = replay(laid(laid(events, two), three))
    assert state.standings[CellKey("switches", 1, 3)].mark is Mark.DEAD
    assert state.standings[CellKey("switches", 1, 1)].mark is Mark.UNTESTED


def test_readings_repairs_and_findings_speak_of_their_places_as_they_are_called_now() -> None:
    old = pier("a|b", "c|d", numbers="[[1, 2], [3, 4]]")
    new = pier("z|b|a", "y|d|c", numbers="[[9, 2, 1], [8, 4, 3]]")
    first = replay(recorded()).history[0]
    opened = first._replace(event=replace(first.event, layout=old))  # type: ignore[type-var]
    events = on(
        (opened,),
        read(CellKey("switches", 1, 1), [CellKey("switches", 1, 1), CellKey("switches", 2, 2)]),
        read(None, [CellKey("switches", 2, 1)]),
        Found(
            finding=Finding(place="switches.c1", verdict="good", code="wire.switches.c1", faults=("open:switches.c1",))
        ),
        Found(finding=Finding(place="switches.r1c1", verdict="good", code="diode.switches.1")),
        Repaired(place="switches.r2c1"),
        Deferred(cell=CellKey("switches", 2, 1)),
    )
    state = replay(laid(events, new))
    a, c = CellKey("switches", 1, 3), CellKey("switches", 2, 3)
    assert state.standings[a].mark is Mark.WORKING
    assert state.standings[a].echoed == (CellKey("switches", 2, 2),)
    assert state.standings[c].deferred == ""
    assert {one.finding.code for one in state.findings} == {"wire.switches.c3", "diode.switches.1"}
    assert {(one.place, one.finding.faults) for one in state.findings} == {
        ("switches.c3", ("open:switches.c3",)),
        ("switches.r1c3", ()),
    }
    assert [one.place for one in state.repairs] == [str(c)]


def test_accepted_glow_goes_with_its_lamp_and_ends_where_that_is_a_coil_now() -> None:
    red = CellKey("lamps", 1, 1)
    events = recorded(marked(red, Mark.STUCK), Accepted(cell=red, note="LED"))
    data = json.loads(to_json(LAYOUT))
    data["matrix"][1] |= {"cells": [["pier", "red"], ["amber", ""]], "numbers": [[21, 11], [12, 0]], "column": []}
    moved = replay(laid(events, layout_from(data, "moved")))
    assert moved.standings[CellKey("lamps", 1, 2)].normal
    kicker, flash = CellKey("coils", 1, 1), json.loads(to_json(LAYOUT))
    flash["matrix"][2]["cell"] = {"1": {"device": "flash lamp"}}
    opened = events[0]._replace(event=replace(events[0].event, layout=layout_from(flash, "flash")))  # type: ignore[type-var]
    glows = on((opened,), marked(kicker, Mark.STUCK), Accepted(cell=kicker))
    assert replay(glows).standings[kicker].normal
    coils = replay(laid(glows, LAYOUT))
    assert (coils.accepted, coils.standings[kicker].fails) == (frozenset(), True)


def test_a_part_that_the_layout_no_longer_names_leaves_its_repair_in_the_record() -> None:
    data = json.loads(to_json(LAYOUT))
    data["matrix"][0]["column"][1]["path"] = []
    events = laid(
        recorded(
            marked(CRAB, Mark.DEAD),
            Repaired(place="Q2", note="new"),
            Found(finding=Finding(place="Q2", verdict="good")),
        ),
        layout_from(data, "x"),
    )
    state = replay(events)
    assert [(one.place, one.note, one.outside) for one in state.repairs] == [("Q2", "new", True)]
    assert state.standings[CRAB].mark is Mark.DEAD
    assert state.known == ()
    assert kept_without_cell(state) == ("Q2: 1 entry",)


def test_a_round_goes_on_unless_its_walk_or_its_held_switches_are_others() -> None:
    renamed = json.loads(to_json(LAYOUT))
    renamed["matrix"][0]["cells"][0][1] = "herring gull"
    for begun, other, goes_on in (
        (RoundStarted(matrix="switches", round="walk"), layout_from(renamed, "x"), True),
        (RoundStarted(matrix="switches", round="walk"), without(GULL), False),
        (RoundStarted(matrix="switches", round="walk", cells=(CRAB,)), without(GULL), True),
        (RoundStarted(matrix="switches", round="roll"), without(GULL), True),
        (RoundStarted(matrix="switches", round="hold", held=(CRAB,)), without(GULL), True),
        (RoundStarted(matrix="switches", round="hold", held=(GULL,)), without(GULL), False),
    ):
        before, events = replay(recorded(begun)), laid(recorded(begun), other)
        after = replay(events)
        assert (after.round is not None) is goes_on
        ends = [each for each in differences(before, after) if each.now == "ends"]
        assert bool(ends) is not goes_on
        assert replay(on(events, Withdrawn(batch=events[-1].batch))).round == before.round
