"""Add causes that need no search: coils of wrong resistance, and LEDs lit by their keep-warm resistors.

Neither is a fault of a line, and neither rivals one. A wrong coil stands in every explanation. Glow that a sound
machine shows as well is no fault: it is offered first among the suspects and belongs to no explanation. Where the
search names the same glow for some explanations, it is one suspect with both chances.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import compress

from matrixcheck.diagnosis.explanation.member_weights import Fitted, Shares
from matrixcheck.diagnosis.forward.coil_resistance import coil_faults, sound_coils
from matrixcheck.diagnosis.machine.keep_warm import glow_faults
from matrixcheck.diagnosis.result import Explanation, Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.sentences import suspect_sentence
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading


def with_plain_causes(
    layout: Layout,
    readings: Sequence[Reading],
    explanations: Sequence[Explanation],
    suspects: Sequence[Suspect],
    ohms_right: float,
) -> tuple[tuple[Explanation, ...], tuple[Suspect, ...]]:
    """Add wrong coils and keep-warm glow to the explanations and suspects where the readings show them.

    `ohms_right`: the chance that a resistance out of tolerance is the coil's and not the meter's.
    """
    known = {suspect.id: suspect for suspect in suspects}
    added: dict[Fault, Suspect] = {}
    for fault in coil_faults(layout, readings):
        name = f"s{len(known) + len(added) + 1}"
        wrong_coil = _suspect(layout, readings, name, fault, explains=fault.cells)
        added[fault] = wrong_coil.model_copy(update={"probability": ohms_right})
    wrong = tuple(suspect.id for suspect in added.values())
    glowing = {fault: _lit_by_themselves(fault, readings) for fault in glow_faults(layout)}
    named = {member: suspect.id for suspect in reversed(suspects) for member in suspect.members if member in glowing}
    found: list[Explanation] = []
    for explanation in explanations:
        chosen = [known[name] for name in explanation.suspects]
        explained = {cell for suspect in chosen if not _feeds_a_side(suspect) for cell in suspect.explains}
        searched = {member for suspect in chosen for member in suspect.members}
        for fault, seen in glowing.items():
            if set(seen) <= explained or fault in searched:
                continue
            if fault in named:
                known[named[fault]] = _likelier(known[named[fault]], explanation.probability)
            else:
                name = f"s{len(known) + len(added) + 1}"
                glow = added.get(fault) or _suspect(layout, readings, name, fault, explains=seen)
                added[fault] = _likelier(glow, explanation.probability)
        found.append(explanation.model_copy(update={"suspects": (*explanation.suspects, *wrong)}))
    glows = [suspect for fault, suspect in added.items() if fault in glowing]
    coils = [suspect for fault, suspect in added.items() if fault not in glowing]
    return tuple(found), (*glows, *known.values(), *coils)


def without_sound_coils(
    layout: Layout, readings: Sequence[Reading], suspects: Sequence[Suspect], shares: Shares, fitted: Fitted
) -> tuple[tuple[Suspect, ...], Shares, Fitted]:
    """Remove coils that were measured within tolerance from suspects that have other members.

    Returns the suspects, with the weights and fittings of the members that stay.
    """
    sound = sound_coils(layout, readings)
    found, weights, fittings = [], dict(shares), dict(fitted)
    for suspect in suspects:
        stays = [not (one.fault is FaultClass.DEVICE_DEAD and one.cells[0] in sound) for one in suspect.members]
        if all(stays) or not any(stays):
            found.append(suspect)
            continue
        members = tuple(compress(suspect.members, stays))
        cells = suspect.explains, suspect.contradicts, suspect.untested
        says = suspect_sentence(layout, members, *cells, readings=readings)
        found.append(suspect.model_copy(update={"members": members, "says": says}))
        if suspect.id in weights:
            weights[suspect.id] = tuple(compress(weights[suspect.id], stays))
        if suspect.id in fittings:
            fittings[suspect.id] = tuple(compress(fittings[suspect.id], stays))
    return tuple(found), weights, fittings


def _likelier(suspect: Suspect, chance: float) -> Suspect:
    return suspect.model_copy(update={"probability": min(1.0, suspect.probability + chance)})


def _feeds_a_side(suspect: Suspect) -> bool:
    """Return whether the suspect keeps a side of a bank live: what glows there glows by its resistors all the same."""
    return any(member.fault is FaultClass.RELAY_STUCK for member in suspect.members)


def _lit_by_themselves(fault: Fault, readings: Sequence[Reading]) -> tuple[CellKey, ...]:
    """Return the cells of a keep-warm glow that were bright though not commanded, or marked stuck."""
    lit: set[CellKey] = set()
    for reading in readings:
        lit |= {cell for cell in reading.answered or () if cell != reading.cell}
        if reading.mark is Mark.STUCK and reading.cell is not None:
            lit.add(reading.cell)
    return tuple(cell for cell in fault.cells if cell in lit)


def _suspect(
    layout: Layout, readings: Sequence[Reading], name: str, fault: Fault, *, explains: Sequence[CellKey]
) -> Suspect:
    """Return a suspect of one fault, with probability 0."""
    tested = {reading.cell for reading in readings} | set(explains)
    untested = tuple(cell for cell in fault.cells if cell not in tested)
    return Suspect(
        id=name,
        probability=0.0,
        members=(fault,),
        explains=tuple(explains),
        contradicts=(),
        untested=untested,
        says=suspect_sentence(layout, (fault,), explains, (), untested, readings=readings),
    )
