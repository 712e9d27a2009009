"""Two solvers and one inference: on the same marks they say the same; what says nothing changes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pytest

from matrixcheck.diagnosis import diagnose as analysis
from matrixcheck.diagnosis.diagnose import diagnose, refine
from matrixcheck.diagnosis.explanation.ambiguity_groups import likeliest_first
from matrixcheck.diagnosis.forward.fault_effects import Fitting
from matrixcheck.diagnosis.inference.kept import Kept
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.result import Diagnosis, to_json
from matrixcheck.diagnosis.words.sentences import LARGE_GAP
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.bench.marks import Marked, draw_marked
from tests.samples import some_of
from tests.spice.simulate import written
from tests.unit.wide_beam import widen

WITHIN = 0.01
"""By how much the two may differ: the beam stops once about so much is left."""
SIZES = (8, 8, 8, 8, 12, 8, 8, 8, 8, 16)


def best(found: Diagnosis) -> tuple[frozenset[str], float]:
    first = found.explanations[0]
    return frozenset(str(found.suspect(name).members[0]) for name in first.suspects), first.probability


def share_of_best(found: Diagnosis) -> float:
    """The best explanation's share of all that are named."""
    return found.explanations[0].probability / sum(one.probability for one in found.explanations)


def by_beam(
    layout: Layout, readings: Sequence[Reading], monkeypatch: pytest.MonkeyPatch, *, wide: bool = False
) -> Diagnosis:
    """What the beam says of marks; a `wide` one leaves out next to nothing."""
    with monkeypatch.context() as patched:
        patched.setattr(analysis, "is_marks_alone", lambda _: False)
        if wide:
            widen(patched)
        return diagnose(layout, readings)


def agree(seeds: Sequence[int], monkeypatch: pytest.MonkeyPatch, sizes: Sequence[int] = (8,)) -> list[str]:
    """Machines on which the solvers name other sets, or the same at another probability, each with what differs.

    Where a solver says that much may be missing, its probability is lowered by that: only the sets are compared. Where
    the two differ because of sets that the beam left out, or that stand behind the ten explanations which are named, a
    wide beam agrees on the best one's share of what is named: that is why, and no other reason will do.
    """
    differ = []
    for seed in seeds:
        machine = draw_marked(f"two solvers {seed}", size=sizes[seed % len(sizes)], shared=seed % 4)
        exactly = diagnose(machine.layout, machine.readings)
        searched = by_beam(machine.layout, machine.readings, monkeypatch)
        differ += [f"{seed}: {what}" for what in differences(machine, exactly, searched, monkeypatch)]
    return differ


def differences(
    machine: Marked, exactly: Diagnosis, searched: Diagnosis, monkeypatch: pytest.MonkeyPatch
) -> Iterator[str]:
    """In what the two answers to a machine differ for no good reason, as `agree` tells it."""
    (ours, sure), (theirs, likewise) = best(exactly), best(searched)
    rivals = [one.probability for one in exactly.explanations[1:] if sure - one.probability < 2 * WITHIN]
    whole = all((found.searched.gap or 0.0) <= LARGE_GAP for found in (exactly, searched))
    apart = whole and abs(sure - likewise) > WITHIN
    if apart and ours == theirs:
        wider = by_beam(machine.layout, machine.readings, monkeypatch, wide=True)
        apart = abs(share_of_best(exactly) - share_of_best(wider)) > WITHIN
    if (ours != theirs and not rivals) or apart:
        yield f"{sure:.4f} and {likewise:.4f}{'' if ours == theirs else ', other sets'}"


def test_both_solvers_say_the_same_of_the_same_marks(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same best set (or one as likely), probabilities within 0.01."""
    assert agree(range(4), monkeypatch) == []


def test_where_they_differ_it_is_by_what_the_beam_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """More than a third of this machine is dead."""
    machine = draw_marked("two solvers 95", size=8, shared=3)
    exactly = diagnose(machine.layout, machine.readings)
    searched = by_beam(machine.layout, machine.readings, monkeypatch)
    assert best(searched)[1] > best(exactly)[1] + WITHIN
    assert list(differences(machine, exactly, searched, monkeypatch)) == []


@pytest.mark.slow
def test_both_solvers_say_the_same_of_many_machines(monkeypatch: pytest.MonkeyPatch) -> None:
    """Up to 16x16."""
    assert agree(range(300), monkeypatch, SIZES) == []


def test_members_of_a_group_stand_in_the_same_order_whichever_solver_found_them_first() -> None:
    """Two faults of the same rate go by name: their order in the pool is the solver's own."""
    layout = parse_layout(draw_case("order", "lamp", 1).layout, "a drawn bank")
    members = [(one, Fitting()) for one in candidates(layout) if one.lines]
    rates = [one.rate for one, _ in members]
    assert len(set(rates)) < len(rates)
    assert likeliest_first(members) == likeliest_first(reversed(members))


@pytest.mark.parametrize("seed", some_of(range(4), 2))
def test_a_reading_that_says_nothing_changes_nothing(seed: int) -> None:
    """A note, and a resistance as it is due: no probability moves."""
    case = draw_case(f"says nothing {seed}", ("switch", "lamp", "coil", "switch")[seed], 1 + seed % 2)
    layout = parse_layout(case.layout, "a drawn bank")
    readings = read_readings(written(case.readings), layout, "drawn readings")
    cell = layout.matrices[0].fitted[0].key
    more = [*readings, Reading(matrix=cell.matrix, cell=cell, note="looked at")]
    before, after = diagnose(layout, readings), diagnose(layout, more)
    assert [one.probability for one in after.explanations] == pytest.approx(
        [one.probability for one in before.explanations], abs=0.005, rel=0
    )


@pytest.mark.parametrize("kind", some_of(["switch", "lamp", "coil"], 1))
def test_readings_one_by_one_end_in_the_same_digits_as_all_at_once(kind: str) -> None:
    case = draw_case(f"one by one {kind}", kind, 2)
    layout = parse_layout(case.layout, "a drawn bank")
    readings = read_readings(written(case.readings), layout, "drawn readings")
    kept: analysis.KeptRegions = Kept(layout)
    for count in (len(readings) // 2, len(readings) - 1, len(readings)):
        *_, last = refine(layout, readings[:count], kept=kept)
    assert without_seconds(last) == without_seconds(diagnose(layout, readings))


def without_seconds(found: Diagnosis) -> object:
    answer = to_json(found)
    answer["searched"].pop("seconds")
    return answer
