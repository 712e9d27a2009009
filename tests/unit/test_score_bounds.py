"""Scores of additions to a set, estimated before any is evaluated."""

from __future__ import annotations

from pathlib import Path

from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.inference.beam.score_bounds import ScoreBounds
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.layout.files import read_layout
from matrixcheck.layout.reading import Reading
from tests.unit.posed_problem import posed

LAYOUT = read_layout(Path(__file__).parents[2] / "layouts" / "coil-8x2.toml")


def test_beside_crossed_lines_a_driver_that_is_stuck_on_has_the_best_net_score() -> None:
    """Beside the crossing it shows elsewhere than in a sound bank; what the cells say of themselves still holds."""
    (matrix,) = LAYOUT.matrices
    planted = [
        parse_fault(f"crossed:{matrix.id}.c1:{matrix.id}.c2", LAYOUT),
        parse_fault(f"stuck-on:{matrix.id}.r7", LAYOUT),
    ]
    plan = [Reading(matrix=matrix.id, cell=cell.key) for cell in matrix.fitted]
    readings, rates = predict(LAYOUT, planted, plan), shipped_rates()
    problem = posed(LAYOUT, readings, rates, candidates(LAYOUT, rates))
    crossed, stuck = (
        next(at for at, item in enumerate(problem.items) if fault in [each.fault for each in item.members])
        for fault in planted
    )
    scores = ScoreBounds(problem.subjects, problem.items, problem.healthy).additions(
        problem.fits_of([crossed]), [crossed]
    )
    assert scores.net[stuck] == max(scores.net)
    assert scores.net[stuck] > 0
