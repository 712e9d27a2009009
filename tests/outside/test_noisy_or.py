"""The likelihood of marks against noisy-OR inference: causes that each may or may not bring a finding about.

Source: Heckerman, *A tractable inference algorithm for diagnosing multiple diseases* (1989): noisy-OR by
inclusion-exclusion equals enumeration. Status: computed; numbers ours.

In the project's terms a finding is a dead mark, a cause a fault that takes a cell with it by a chance. That is said in
two ways: as breaks that lose just the cells whose links hold, so that the forward model is the OR; and as chances of a
private cause, which the likelihood sums out in closed form. Marks are taken as never wrong.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import exp, prod

import numpy as np
import pytest

from matrixcheck.diagnosis.inference.likelihood import Private, Subject
from matrixcheck.diagnosis.inference.subjects import subjects_of
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Mark, Reading

PRIORS = (0.1, 0.05, 0.02)
CHANCES = ((0.8, 0.3, 0.0), (0.2, 0.9, 0.5), (0.0, 0.4, 0.7))
"""One row a finding, one column a cause."""
PRESENT = (True, True, False)
EVIDENCE = 0.0247009588
POSTERIORS = (0.708903, 0.385870, 0.013547)

CAUSES, FINDINGS = range(3), range(3)
CELLS = tuple(CellKey("m", 1, 1 + finding) for finding in FINDINGS)
Given = tuple[bool, ...]


def subject() -> Subject:
    """Three switches of one row, the first two marked dead, the third working."""
    matrix = {"id": "m", "kind": "switch", "cells": [["f1", "f2", "f3"]]}
    layout = layout_in({"format": 1, "name": "three findings", "matrix": [matrix]})
    readings = [
        Reading(matrix="m", cell=cell, mark=Mark.DEAD if dead else Mark.WORKING)
        for cell, dead in zip(CELLS, PRESENT, strict=True)
    ]
    shipped = shipped_rates()
    rates = shipped._replace(reading=shipped.reading._replace(wrong_mark=1e-15))
    (only,) = subjects_of(layout, readings, rates)
    return only


def given() -> Iterator[tuple[Given, float]]:
    """Which causes are there, and the chance of that."""
    for there in product((False, True), repeat=3):
        yield there, prod(p if here else 1 - p for p, here in zip(PRIORS, there, strict=True))


def by_breaks(machine: Subject, there: Given) -> float:
    """P(marks | causes): every way in which the causes' links may hold, each as a set of breaks."""
    total = 0.0
    links = [(finding, cause) for finding in FINDINGS for cause in CAUSES if there[cause]]
    for holds in product((False, True), repeat=len(links)):
        kept = {link for link, held in zip(links, holds, strict=True) if held}
        chance = prod(CHANCES[f][c] if (f, c) in kept else 1 - CHANCES[f][c] for f, c in links)
        lost = [tuple(CELLS[f] for f in FINDINGS if (f, cause) in kept) for cause in CAUSES]
        breaks = [Candidate(FaultClass.BREAK, None, (LineKey("m", "row", 1),), cells) for cells in lost if cells]
        total += chance * exp(machine.fit(breaks).bare)
    return total


def by_private_causes(machine: Subject, there: Given) -> float:
    """P(marks | causes): the chance that any cause takes a cell with it, summed out by the likelihood."""
    dead = [1 - prod(1 - q for q, here in zip(row, there, strict=True) if here) for row in CHANCES]
    return exp(machine.fit(()).log(Private(np.array([dead]), np.zeros((1, 3)))))


def by_inclusion_and_exclusion() -> float:
    """P(marks) as the source has it: over the subsets of the findings that are present, signs in turn."""
    present = [finding for finding in FINDINGS if PRESENT[finding]]
    absent = [finding for finding in FINDINGS if not PRESENT[finding]]
    total = 0.0
    for chosen in product((False, True), repeat=len(present)):
        quiet = absent + [finding for finding, here in zip(present, chosen, strict=True) if here]
        total += (-1) ** sum(chosen) * prod(
            p * prod(1 - CHANCES[finding][cause] for finding in quiet) + 1 - p for cause, p in enumerate(PRIORS)
        )
    return total


@pytest.mark.parametrize("likelihood", [by_breaks, by_private_causes])
def test_evidence_and_posteriors_are_those_of_noisy_or_inference(likelihood) -> None:  # type: ignore[no-untyped-def]
    machine = subject()
    joint = {there: chance * likelihood(machine, there) for there, chance in given()}
    evidence = sum(joint.values())
    assert evidence == pytest.approx(EVIDENCE, rel=0, abs=5e-11)
    assert evidence == pytest.approx(by_inclusion_and_exclusion(), rel=1e-9, abs=0)
    for cause, expected in zip(CAUSES, POSTERIORS, strict=True):
        posterior = sum(weight for there, weight in joint.items() if there[cause]) / evidence
        assert posterior == pytest.approx(expected, rel=0, abs=5e-7)
