"""Name what explanations are made of: parts of a set, sets with their private causes, ambiguity groups."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.explanation.member_weights import Fittings
from matrixcheck.diagnosis.forward.fault_effects import Setting
from matrixcheck.diagnosis.inference.candidate_classes import Item, Signature
from matrixcheck.diagnosis.inference.likelihood import Fit
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.layout.places import CellKey


class Group(NamedTuple):
    """Hold faults that no reading distinguishes, likeliest first.

    `fittings`: how each was fitted, in the same order. `items`: numbers of the items among them. `private`: the private
    causes among them, each by its cell and whether it is stuck, not dead.
    """

    members: tuple[Candidate, ...]
    fittings: Fittings
    items: frozenset[int]
    private: frozenset[tuple[CellKey, bool]] = frozenset()


class Part(NamedTuple):
    """Hold one fault of a completed set: an item (`number`), or a private cause of one cell."""

    lead: Candidate
    number: int | None
    cell: CellKey | None
    stuck: bool
    item: Item | None


class Completed(NamedTuple):
    """Hold a set with the private causes that explain the rest, and what all of it predicts."""

    parts: tuple[Part, ...]
    setting: Setting
    fits: tuple[Fit, ...]
    signature: Signature
