"""A netlist that falls into its connected parts, each solved once for its DC operating point with neospice."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import neospice

GROUND, SUPPLY = "0", "v"
_RAILS = frozenset((GROUND, SUPPLY))
_MODELS = (
    # 1N4004 and 1N4148 class silicon diodes and a white LED: common practice, no source.
    ".model DPOWER D(IS=76n N=1.75 RS=0.04)",
    ".model DSMALL D(IS=2.5n N=1.75 RS=0.6)",
    ".model DLED D(IS=1p N=4.9 RS=0.1)",
)
_SHUNT = 1e8  # ohms from every node to ground: a meter's leak, so that nothing floats


class Netlist:
    """Two-terminal elements between named nodes, fed by one supply of `volts`."""

    def __init__(self, volts: float) -> None:
        self.volts = volts
        self._elements: list[tuple[str, str, str]] = []

    def resistor(self, a: str, b: str, ohms: float) -> None:
        """A resistance between two nodes."""
        self._elements.append((a, b, f"R%d {a} {b} {ohms:.6g}"))

    def diode(self, anode: str, cathode: str, model: str) -> None:
        """A diode of one of the models above."""
        self._elements.append((anode, cathode, f"D%d {anode} {cathode} {model}"))

    def solve(self) -> dict[str, float]:
        """Volts at every node. A part without a way to ground or to the supply carries no current and is not solved."""
        volts = {GROUND: 0.0, SUPPLY: self.volts}
        for elements in self._parts():
            ends = {node for a, b, _ in elements for node in (a, b)}
            if ends >= _RAILS:
                lines = tuple(text % i for i, (_, _, text) in enumerate(elements))
                volts |= _operating_point(self.volts, lines, tuple(sorted(ends - _RAILS)))
            else:
                volts |= dict.fromkeys(ends - _RAILS, self.volts if SUPPLY in ends else 0.0)
        return volts

    def _parts(self) -> Iterable[list[tuple[str, str, str]]]:
        """The elements that hang together otherwise than by ground and supply, each part in the order of its making."""
        leads_to: dict[str, str] = {}
        hung: list[tuple[str, tuple[str, str, str]]] = []
        for element in self._elements:
            ends = [_last(leads_to, node) for node in element[:2] if node not in _RAILS]
            if ends:
                hung.append((ends[0], element))
                if ends[0] != ends[-1]:
                    leads_to[ends[-1]] = ends[0]
        parts: dict[str, list[tuple[str, str, str]]] = {}
        for node, element in hung:
            parts.setdefault(_last(leads_to, node), []).append(element)
        return parts.values()


def _last(leads_to: dict[str, str], node: str) -> str:
    """The node to which all of a part lead."""
    while (further := leads_to.get(node)) is not None:
        node = further
    return node


@lru_cache(maxsize=100_000)
def _operating_point(volts: float, lines: tuple[str, ...], nodes: tuple[str, ...]) -> dict[str, float]:
    shunts = [f"RS{i} {node} 0 {_SHUNT:g}" for i, node in enumerate(nodes)]
    text = ["one bank", *_MODELS, f"V1 {SUPPLY} 0 DC {volts:g}", *lines, *shunts, ".op", ".end", ""]
    result = neospice.dc("\n".join(text))
    return {node: float(result.voltage(node)) for node in nodes}
