"""The page for the owner: safety first, then what was found, what was done, what is left and why."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.words.places import count_of
from matrixcheck.diagnosis.words.sentences import search_caution
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.function_lists import function_counts
from matrixcheck.record.summary import LaterItem
from matrixcheck.report import cautions
from matrixcheck.report.counts import Counts, in_all
from matrixcheck.report.document import Block, Points, Section, Sentence
from matrixcheck.report.drawing.lettering import wrapped
from matrixcheck.report.drawing.paper import Paper
from matrixcheck.report.functions import counted, failing
from matrixcheck.report.functions import untested as untested_lists
from matrixcheck.report.job_facts import CardOf, JobFacts
from matrixcheck.report.later import UNKNOWN_REACH, by_reach
from matrixcheck.report.owner_words import capital, fault_sentence, names_of, place_named
from matrixcheck.report.repair_results import RepairResult
from matrixcheck.report.safety import named_briefly, with_notes
from matrixcheck.report.stop import notice

SURELY = {"likely": "Probably: ", "one of several": "Possibly: "}
"""How a sentence begins that is less than near certain."""
LETTERS, LINE, SPACE = 37, 48.5, 7
"""Size of letters (10.5 points), height of a line and white below a point, in tenths of a millimetre."""
HEADING, FRAME, SIGNATURES = 128, 65, 155
"""What a heading, the frame of what is loud, and the line to sign on take."""
LONGEST_POINT = 4
"""Lines that one point may have."""
INDENT = 60
"""White before a point."""
FEWEST = 3
"""Points to which a list may be cut."""


def owner_page(facts: JobFacts, paper: Paper) -> tuple[Section, ...]:
    """Return the sections, so short that they fit on one sheet."""
    sections = (_safety(facts), _found(facts), _done(facts), _left(facts))
    taken = facts.head.height(paper.width) + SIGNATURES + _danger(facts, paper.width)
    return _fitted(sections, paper.width, paper.height - taken)


def _danger(facts: JobFacts, width: int) -> float:
    lines = len(wrapped(notice(facts.state.coils), width - INDENT, LETTERS, LONGEST_POINT))
    return lines * LINE + FRAME if lines else 0.0


def _safety(facts: JobFacts) -> Section:
    outcomes = facts.safety
    failed, waived = with_notes(outcomes, "failed"), with_notes(outcomes, "waived")
    open_, passed = named_briefly(outcomes, "open"), named_briefly(outcomes, "passed")
    danger = notice(facts.state.coils)
    loud = [f"FAILED: {one}." for one in failed]
    if open_:
        loud.append(f"NOT CHECKED: {', '.join(open_)}.")
    if failed or danger:
        loud.append("Do not use this machine before that is put right and checked again.")
    elif open_:
        loud.append("Do not use this machine before this is checked.")
    blocks: list[Block] = [Points(tuple(loud), loud=True)] if loud else []
    if passed:
        blocks.append(Sentence(f"Passed: {', '.join(passed)}."))
    if waived:
        blocks.append(Sentence(f"Waived: {', '.join(waived)}."))
    blocks.append(Sentence(cautions.DEFER, "quiet"))
    return Section("Safety", tuple(blocks))


def _found(facts: JobFacts) -> Section:
    state, counts = facts.state, in_all(facts.counts.values())
    tested = f"Of {count_of(counts.total, 'device')}, {_counted(counts)}."
    functions = function_counts(facts.functions)
    if functions.untested < sum(functions):
        tested += f" Of the rest of the test mode: {counted(functions)}."
    if state.coils.stop:
        return Section("What was found", (Sentence(tested),))
    dead = frozenset(key for key, standing in state.standings.items() if standing.mark is Mark.DEAD)
    faults = [_surely(one, state.layout, dead) for one in facts.faults]
    glow = [_surely(one, state.layout, dead) for one in facts.harmless]
    blocks: list[Block] = [Sentence(tested)]
    if counts.tested and search_caution(facts.ranking.diagnosis.searched):
        blocks.append(Sentence("The search for causes is not finished: more may be wrong than is listed here.", "loud"))
    unsteady = [standing.cell for standing in state.standings.values() if standing.intermittent]
    if unsteady:
        verb = "comes and goes" if len(unsteady) == 1 else "come and go"
        faults.append(f"{count_of(len(unsteady), 'device')} {verb}: {names_of(unsteady)}.")
    faults += [f"{capital(one)}." for one in failing(facts.functions)]
    if faults or glow:
        blocks.append(Points((*faults, *glow)))
    if not faults:
        blocks.append(Sentence("No fault is known in what was tested." if counts.tested else "Nothing is tested yet."))
    return Section("What was found", tuple(blocks))


def _counted(counts: Counts) -> str:
    said = [f"{counts.working} {'works' if counts.working == 1 else 'work'}"]
    if counts.dead:
        said.append(f"{counts.dead} {'does' if counts.dead == 1 else 'do'} not work")
    if counts.stuck:
        said.append(f"{counts.stuck} {'is' if counts.stuck == 1 else 'are'} always on")
    if counts.glowing:
        said.append(f"{counts.glowing} {'glows' if counts.glowing == 1 else 'glow'} without being faulty")
    said.append(f"{counts.untested} {'is' if counts.untested == 1 else 'are'} not tested")
    return f"{', '.join(said[:-1])} and {said[-1]}"


def _surely(one: CardOf, layout: Layout, dead: frozenset[CellKey]) -> str:
    said = fault_sentence(one.suspect, layout, dead)
    return SURELY.get(one.card.sure, "") + (said if one.card.sure not in SURELY else said[:1].lower() + said[1:])


def _done(facts: JobFacts) -> Section:
    if not facts.repairs:
        tested = "The machine was tested. " if in_all(facts.counts.values()).tested else ""
        return Section("What was done", (Sentence(f"{tested}No repair is recorded."),))
    return Section("What was done", (Points(tuple(_repair(one, facts.state.layout) for one in facts.repairs)),))


def _repair(result: RepairResult, layout: Layout) -> str:
    place = result.repair.place if result.repair.outside else place_named(result.repair.place, layout)
    said = f"{capital(place)}: {result.done}."
    if not result.failed:
        return said
    outcome = (
        (len(result.cured), "working again"),
        (len(result.failing), "still failing"),
        (len(result.waiting), "not tested again yet"),
    )
    counted = ", ".join(f"{count} {how}" for count, how in outcome if count)
    return f"{said} Of {count_of(result.failed, 'device')} that had failed: {counted}."


def _left(facts: JobFacts) -> Section:
    state = facts.state
    points = []
    checks = sum(one.outcome in ("open", "failed") for one in facts.safety)
    if checks:
        points.append(f"{count_of(checks, 'safety check')} above {'is' if checks == 1 else 'are'} open or failed.")
    faults = len(facts.faults)
    if state.coils.stop:
        points.append("Nothing more may be tested before the coil that stays on is found.")
        return Section("What is left, and why", (Points(tuple(points)),))
    faults += len(failing(facts.functions))
    if faults:
        points.append(f"{count_of(faults, 'fault')} above {'is' if faults == 1 else 'are'} still to be repaired.")
    put_off: dict[str, list[LaterItem]] = {}
    due: list[LaterItem] = []
    untested: list[LaterItem] = []
    for item in facts.later:
        standing = state.standings[item.cell]
        if standing.retest_due is not None:
            due.append(item)
        elif standing.deferred is None:
            untested.append(item)
        if standing.deferred is not None:
            put_off.setdefault(standing.deferred or "no reason given", []).append(item)
    if due:
        points.append(f"{_devices(due)} to be tested again after a repair.")
    points += [f"{_devices(items)} put off: {reason}." for reason, items in put_off.items()]
    points += [
        f"{_devices(group.items)} not tested: {REACHED.get(group.reach, group.reach)}." for group in by_reach(untested)
    ]
    lists = untested_lists(facts.functions)
    if lists:
        points.append(f"Not tested in the rest of the test mode: {', '.join(lists)}.")
    if not points:
        return Section("What is left, and why", (Sentence("Nothing: every device is tested, and no fault is open."),))
    return Section("What is left, and why", (Points(tuple(points)),))


REACHED = {
    "hand": "within reach by hand",
    "ball": "only a ball gets there",
    "door open": "behind the door",
    "glass off": "under the glass",
    "playfield up": "under the playfield",
    "back box open": "inside the back box",
    UNKNOWN_REACH: "not got round to yet",
}


def _devices(items: Sequence[object]) -> str:
    return f"{count_of(len(items), 'device')} {'is' if len(items) == 1 else 'are'}"


def _fitted(sections: Sequence[Section], width: int, height: float) -> tuple[Section, ...]:
    """Return the sections, each point and sentence cut to a few lines, the longest lists cut until the page holds."""
    short = [
        Section(section.title, tuple(_shortened(block, width) for block in section.blocks)) for section in sections
    ]
    fewer = [0] * len(short)
    while True:
        shown = tuple(map(_with_fewer, short, fewer))
        left = [_points(section) for section in shown]
        if sum(_height(section, width) for section in shown) <= height or max(left) <= FEWEST:
            return shown
        place = left.index(max(left))
        fewer[place] = max(fewer[place] + 1, 2)


def _shortened(block: Block, width: int) -> Block:
    if isinstance(block, Points):
        return Points(tuple(_few_lines(item, width) for item in block.items), block.loud)
    return Sentence(_few_lines(block.text, width), block.tone) if isinstance(block, Sentence) else block


def _few_lines(text: str, width: int) -> str:
    return " ".join(wrapped(text, width - INDENT, LETTERS, LONGEST_POINT))


def _with_fewer(section: Section, fewer: int) -> Section:
    """Return the section with so many points of its longest list counted instead of said."""
    if not fewer:
        return section
    longest = max(_lists(section), key=lambda block: len(block.items))
    items = (*longest.items[:-fewer], f"And {fewer} more, on the technician's pages.")
    return Section(
        section.title, tuple(Points(items, block.loud) if block is longest else block for block in section.blocks)
    )


def _points(section: Section) -> int:
    return max((len(block.items) for block in _lists(section)), default=0)


def _lists(section: Section) -> list[Points]:
    return [block for block in section.blocks if isinstance(block, Points)]


def _height(section: Section, width: int) -> float:
    """Return how much of the page a section takes, reckoned amply."""
    used = float(HEADING)
    for block in section.blocks:
        texts = block.items if isinstance(block, Points) else (block.text,) if isinstance(block, Sentence) else ()
        used += sum(len(wrapped(text, width - INDENT, LETTERS, LONGEST_POINT)) * LINE + SPACE for text in texts)
        used += FRAME if getattr(block, "loud", False) or getattr(block, "tone", "") == "loud" else 0
    return used
