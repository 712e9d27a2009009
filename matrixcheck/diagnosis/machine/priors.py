"""How often each fault is met, and how often a reading is wrong, before anything was read: `priors.toml`."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Layout


class ReadingRates(NamedTuple):
    """Chances of a wrong reading; see `priors.toml` for what each means."""

    wrong_mark: float
    wrong_answer: float
    false_echo: float
    missed_echo: float
    missed_glow: float
    false_glow: float
    glow_taken_for_light: float


class Rates(NamedTuple):
    """Chances per part (by kind), of plugs in the wrong place, per line, per bank, per cell (by the matrix's kind), and
    of a wrong reading."""

    part: dict[str, float]
    plug: dict[str, float]
    line: dict[str, float]
    bank: dict[str, float]
    cell: dict[str, dict[str, float]]
    reading: ReadingRates


@cache
def shipped_rates() -> Rates:
    """Return the rates that come with the package (common practice, no source)."""
    data = tomllib.loads(files("matrixcheck.diagnosis.machine").joinpath("priors.toml").read_text("utf-8"))
    reading = ReadingRates(**{name.replace(" ", "_"): value for name, value in data["reading"].items()})
    return Rates(data["part"], data["plug"], data["line"], data["bank"], data["cell"], reading)


def part_rate(layout: Layout, ref: str, rates: Rates) -> float:
    """Return the chance that a part fails: the layout's own, else that of its kind."""
    known = layout.part_by_ref.get(ref)
    if known is not None and known.rate is not None:
        return known.rate
    kind = part_class(ref)
    if owner(ref) != ref:
        kind = {"connector": "contact", "integrated circuit": "pin"}.get(kind, kind)
    return rates.part.get(kind, rates.part["other"])
