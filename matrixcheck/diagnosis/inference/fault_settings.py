"""List the settings under which a fault may show differently: what its fuse does, whether it is loose."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fuse, Setting
from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import COMES_AND_GOES, ODD_DIODE
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.places import CellKey


def settings_of(
    candidate: Candidate, subjects: Sequence[Subject], unsteady: Collection[CellKey]
) -> tuple[Setting, ...]:
    """Return the settings that make a difference to a fault; `unsteady`: the cells that come and go."""
    lasting = _lasting_settings(candidate, subjects)
    if may_be_loose(candidate) and any(cell in unsteady for cell in candidate.cells):
        return (*lasting, Setting(loose=frozenset((candidate,))))
    return lasting


def share_of(setting: Setting, settings: Collection[Setting]) -> float:
    """Return the share of a fault's rate that a setting of it has, besides what the likelihood counts.

    A grounded line takes its fuse at even odds. That it went before any reading the readings don't say: it is halved
    here; so is each where the fuse may as well have gone during one.
    """
    ways = {each.fuse for each in settings}
    if setting.fuse is Fuse.GONE:
        return 0.25 if Fuse.GOES in ways else 0.5
    return 0.5 if setting.fuse is Fuse.GOES else 1.0


def may_be_loose(candidate: Candidate) -> bool:
    """Return whether a fault may come and go by itself.

    Contacts, plugs, wires, switches and sockets may, drivers and diodes seldom do (common practice, no source).
    """
    if candidate.fault_class is FaultClass.OPEN:
        return candidate.part is None or part_class(candidate.part) == "connector"
    return candidate.fault_class in COMES_AND_GOES


def _lasting_settings(candidate: Candidate, subjects: Sequence[Subject]) -> tuple[Setting, ...]:
    """Return the settings that make a difference to a fault that doesn't come and go.

    A grounded driven line of lamps or coils goes dark alone or blows its fuse; an LED passes current through its odd
    diode one way or both; inputs of 12 V switch at a low level, or at half their supply.
    """
    if candidate.fault_class is FaultClass.GROUNDED:
        return _fuse_settings(candidate, subjects)
    if candidate.fault_class in ODD_DIODE:
        for subject in subjects:
            cell = subject.frame.matrix.by_key.get(candidate.cells[0])
            if cell is not None and cell.notes.fitted == "led":
                return USUAL, Setting(both_ways=True)
            if (
                cell is not None
                and subject.frame.fuse_reads_closed
                and candidate.fault_class is FaultClass.DIODE_REVERSED
            ):
                return USUAL, Setting(high_inputs=True)
    return (USUAL,)


def _fuse_settings(grounded: Candidate, subjects: Sequence[Subject]) -> tuple[Setting, ...]:
    """Return what the fuse of a grounded line may have done.

    A coil's goes once its side is fed. A lamp matrix feeds all of its lines at any time: when its fuse went makes a
    difference only if that was recorded, or where others on the fuse were read before.
    """
    line = grounded.lines[0]
    own = next((subject for subject in subjects if subject.frame.matrix.id == line.matrix), None)
    if own is None:
        return (USUAL, Setting(Fuse.GONE)) if grounded.fused else (USUAL,)
    if own.frame.kind == "switch" or not own.frame.is_driven(line):
        return (USUAL,)
    spared = own.earlier.intersection(each.matrix for each in grounded.fused)
    if own.frame.kind == "lamp" and not spared and not own.evidence.blew:
        return USUAL, Setting(Fuse.GONE)
    return USUAL, Setting(Fuse.GOES, spared=spared), Setting(Fuse.GONE)
