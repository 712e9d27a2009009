"""What is said, and what is no longer proposed, while a coil is on at rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import BenchCheck, Diagnosis, NextTest
from matrixcheck.record.coil_lock import COIL_FUSE_OUT, FUSE_IS_OUT, SWITCH_OFF_NOW, CoilLock

LOOK_AGAIN = (
    "A repair is recorded since a coil stayed on. Put a coil fuse of the labelled rating back, stay at the "
    "mains switch, and make a rest scan of {} before anything else."
)
_AT_REST = "Rest scan, nothing fired: look at the coils of {}. If one pulls, switch off at once and take the fuse out."


def notice(lock: CoilLock) -> str:
    """Return what must be said first; nothing where no coil is on."""
    if not lock.coils:
        return ""
    if lock.stop:
        return SWITCH_OFF_NOW
    return LOOK_AGAIN.format(" and ".join(sorted(lock.matrices))) if lock.repaired else FUSE_IS_OUT


def brief_notice(lock: CoilLock) -> str:
    """Return the same in a few words, for the head of a small screen."""
    if not lock.coils:
        return ""
    if lock.stop:
        return "Switch off now."
    return "Rest scan of coils first." if lock.repaired else "The coil fuse is out."


def danger_lines(lock: CoilLock, job: str) -> tuple[str, ...]:
    """Return the same for the command line, with how to record there that the fuse is out."""
    record = f'Then record it: matrixcheck safety {job} "{COIL_FUSE_OUT}" --passed'
    return tuple(filter(None, (notice(lock), record if lock.stop else "")))


def held_back(diagnosis: Diagnosis, lock: CoilLock) -> Diagnosis:
    """Return the diagnosis without the steps that a coil on at rest forbids, and with what must be said of it.

    Nothing is left to do until the fuse is recorded out. From then on coils are measured with the power off only, and
    exercised no more until a rest scan after the repair shows none on.
    """
    if not lock.coils:
        return diagnosis
    tests: tuple[NextTest, ...] = ()
    checks: tuple[BenchCheck, ...] = ()
    if not lock.stop:
        tests = (
            *(_rest_scan(matrix_id) for matrix_id in sorted(lock.matrices) if lock.repaired),
            *(test for test in diagnosis.next if test.matrix not in lock.matrices),
        )
        checks = tuple(check for check in diagnosis.checks if not (check.power and _concerns(check, lock.matrices)))
    return diagnosis.model_copy(update={"danger": notice(lock), "stop": lock.stop, "next": tests, "checks": checks})


def _rest_scan(matrix_id: str) -> NextTest:
    # Here and not above: the screens ask for the words alone, and the shapes are slow to import.
    from matrixcheck.diagnosis.result import NextTest  # noqa: PLC0415

    return NextTest(matrix=matrix_id, cell=None, gain=0.0, says=_AT_REST.format(matrix_id))


def _concerns(check: BenchCheck, matrices: frozenset[str]) -> bool:
    concerned = {cell.matrix for fault in check.splits for cell in fault.cells}
    concerned |= {line.matrix for fault in check.splits for line in fault.lines}
    return not concerned.isdisjoint(matrices)
