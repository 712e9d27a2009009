"""A layout's faults as marks alone see them: flags on whole lines, and on the ends of lines beyond a break.

Faults of the same class differ in the lines that they take hold of, not in what they do there. So a machine of tens of
thousands of faults is a few arrays: the cells of each line in their chain's order, and for every fault the pieces of
lines that it flags. All of this hangs on the layout alone and is made once for it.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from itertools import combinations
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.forward.fault_effects import fused_with
from matrixcheck.diagnosis.inference.exact.cell_states import APPEARANCE, Flag, Site, effects, sites_of
from matrixcheck.diagnosis.inference.exact.sources import Piece, Source, Unknown, chances_of, log_odds_of
from matrixcheck.diagnosis.machine.candidates import Candidate, is_common, whole_faults
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, FaultClasses
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, Ints
from matrixcheck.diagnosis.machine.plugs import displacement
from matrixcheck.diagnosis.machine.priors import Rates, private_rate, shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.model import Layout
from matrixcheck.layout.numbering import Number
from matrixcheck.layout.places import CellKey, LineKey


class Machine(NamedTuple):
    """A layout's cells, lines and faults as arrays.

    `cells`: every fitted cell, in the layout's order; `place[cell]`: its number. `site[cell]`: its place in `sites`.

    `lines`: the lines; `chains[line, n]`: its cells, plug outwards where that is known, filled up with the count of
    all cells; `inwards`: the same from the other end. `single_dead`, `single_stuck`: chances that a cell fails by
    itself. `sources`: what is shared, with the `chances` of each and their `log_odds`, and whether it `crosses` lines.
    """

    layout: Layout
    frames: tuple[Frame, ...]
    cells: tuple[CellKey, ...]
    place: dict[CellKey, int]
    kind: Ints
    sites: tuple[Site, ...]
    site: Ints
    lines: tuple[LineKey, ...]
    line_at: dict[LineKey, int]
    chains: Ints
    inwards: Ints
    lengths: Ints
    single_dead: Floats
    single_stuck: Floats
    sources: tuple[Source, ...]
    unknown: tuple[Unknown, ...]
    pieces: Pieces
    chances: Floats
    log_odds: Floats
    crosses: Bools

    def cells_of(self, piece: Piece) -> Ints:
        """List the cells of a stretch of a line, plug outwards, by their numbers [cell]."""
        line, _, start = piece
        found: Ints = self.chains[line, start : self.lengths[line]]
        return found

    def completed(self, fault: Candidate) -> Candidate:
        """Fill in the cells of a shared fault."""
        places = [self.line_at[line] for line in fault.lines]
        if fault.fault_class is FaultClass.BREAK:
            found = self.cells_of((places[0], 0, fault.after or 0)).tolist()
        else:
            found = sorted({cell for line in places for cell in self.cells_of((line, 0, 0)).tolist()})
        return fault._replace(cells=tuple(sorted(self.cells[cell] for cell in found)))


class Pieces(NamedTuple):
    """The pieces of all sources, one after the other.

    `owner[piece]`, `line[piece]`: whose it is, and on which line. `flag[piece]`: its place in `flags`. `start[piece]`:
    from which cell on. `end[piece]`: where `tails` has it. `flags`: every code of flags in use. `states[flag, site]`:
    the state that it brings about by itself. `shows[row, site]`: whether such a state shows; `row[piece]`: which of
    these rows is a piece's.
    """

    owner: Ints
    line: Ints
    flag: Ints
    start: Ints
    end: Ints
    flags: tuple[int, ...]
    states: Ints
    shows: Bools
    row: Ints


Earlier = Mapping[str, frozenset[str]]
"""By matrix: the others on its fuses that were read before it."""
NONE_EARLIER: Earlier = MappingProxyType({})


def machine_of(layout: Layout, rates: Rates | None = None, earlier: Earlier = NONE_EARLIER) -> Machine:
    """Give the machine of a layout, at the shipped rates where none are given; it is worked out once for the latest."""
    known = rates or shipped_rates()
    kept = layout.once(_kept_machines)
    key = known.key, frozenset((name, before) for name, before in earlier.items() if before)
    if key not in kept:
        kept.clear()
        kept[key] = _Building(layout, known, earlier).machine()
    return kept[key]


def _kept_machines(_: Layout) -> dict[Hashable, Machine]:
    return {}


class _Building:
    def __init__(self, layout: Layout, rates: Rates, earlier: Earlier) -> None:
        self.layout = layout
        self.rates = rates
        self.earlier = earlier
        self.frames = {matrix.id: Frame(matrix) for matrix in layout.matrices}
        self.cells = tuple(cell.key for matrix in layout.matrices for cell in matrix.fitted)
        self.place = {cell: at for at, cell in enumerate(self.cells)}
        self.known = [(key, line) for matrix in layout.matrices for key, line in matrix.lines.items()]
        self.at = {key: at for at, (key, _) in enumerate(self.known)}
        self.found: dict[tuple[Piece, ...], list[Candidate]] = {}
        self.spared: dict[tuple[Piece, ...], frozenset[str]] = {}

    def machine(self) -> Machine:
        sites = self._sites()
        kinds = tuple(dict.fromkeys(sites))
        site = np.array([kinds.index(one) for one in sites], dtype=np.int64)
        chains, lengths = self._chains()
        for candidate in whole_faults(self.layout, self.rates):
            self._lay(candidate)
        for candidate in self._crossings():
            self._add(self._whole(candidate.lines, Flag.CROSSED_DRIVEN, Flag.CROSSED_SENSED), candidate)
        unknown = self._breaks(lengths)
        pieces, sources = self._pieces(kinds, site, chains, lengths, [one.flag for one in unknown])
        chances = chances_of(sources)
        return Machine(
            self.layout,
            tuple(self.frames.values()),
            self.cells,
            self.place,
            self._kinds(),
            kinds,
            site,
            tuple(key for key, _ in self.known),
            self.at,
            chains,
            np.ascontiguousarray(chains[:, ::-1]),
            lengths,
            self._single(DEAD_CELL),
            self._single((FaultClass.DEVICE_STUCK,)),
            sources,
            unknown,
            pieces,
            chances,
            log_odds_of(chances),
            np.array([source.crosses for source in sources], dtype=bool),
        )

    def _sites(self) -> list[Site]:
        found = []
        for matrix in self.layout.matrices:
            frame = self.frames[matrix.id]
            sites = sites_of(frame)
            found += [sites[frame.at(cell.key)] for cell in matrix.fitted]
        return found

    def _kinds(self) -> Ints:
        """Give for each cell the place of its matrix."""
        counts = [len(matrix.fitted) for matrix in self.layout.matrices]
        return np.repeat(np.arange(len(counts)), counts)

    def _chains(self) -> tuple[Ints, Ints]:
        on_line: dict[LineKey, list[int]] = {key: [] for key, _ in self.known}
        number: dict[int, Number] = {}
        for matrix in self.layout.matrices:
            for cell in matrix.fitted:
                at = self.place[cell.key]
                number[at] = cell.number
                for key in (cell.row_line, cell.column_line):
                    if key in on_line:
                        on_line[key].append(at)
        lengths = np.array([len(cells) for cells in on_line.values()], dtype=np.int64)
        chains = np.full((len(on_line), max(lengths.max(initial=0), 1)), len(self.cells), dtype=np.int64)
        for row, ((_, line), cells) in enumerate(zip(self.known, on_line.values(), strict=True)):
            if line.chain is not None:
                order = {cell: at for at, cell in enumerate(line.chain)}
                cells.sort(key=lambda at: order[number[at]])
            chains[row, : len(cells)] = cells
        return chains, lengths

    def _single(self, classes: FaultClasses) -> Floats:
        """Give the chance of a fault of its own of these classes: [cell]."""
        found = []
        for matrix in self.layout.matrices:
            found += [private_rate(matrix, cell, classes, self.rates) for cell in matrix.fitted]
        return np.array(found)

    def _add(self, pieces: Sequence[Piece], candidate: Candidate, spared: frozenset[str] = frozenset()) -> None:
        key = tuple(sorted(set(pieces)))
        self.found.setdefault(key, []).append(candidate)
        self.spared[key] = spared

    def _whole(self, lines: Sequence[LineKey], driven: Flag, sensed: Flag) -> list[Piece]:
        return [
            (self.at[line], int(driven if self.frames[line.matrix].is_driven(line) else sensed), 0) for line in lines
        ]

    def _lay(self, fault: Candidate) -> None:
        """Add the pieces that a fault of parts, of one line, or of a bank flags."""
        lines = fault.lines
        match fault.fault_class:
            case FaultClass.OPEN | FaultClass.UNPLUGGED:
                chip = fault.part is not None and part_class(fault.part) == "integrated circuit"
                driven, sensed = (
                    (Flag.MUTED_DRIVEN, Flag.MUTED_SENSED) if chip else (Flag.PARTED_DRIVEN, Flag.PARTED_SENSED)
                )
                self._add(self._whole(lines, driven, sensed), fault)
            case FaultClass.STUCK_ON:
                self._add(self._whole(lines, Flag.STUCK_DRIVEN, Flag.STUCK_SENSED), fault)
            case FaultClass.GROUNDED:
                self._grounded(fault)
            case FaultClass.FUSE_BLOWN:
                self._fuse(fault)
            case FaultClass.RELAY_STUCK:
                self._relay(fault)
            case FaultClass.PLUGS_SWAPPED | FaultClass.PLUG_SHIFTED:
                self._misplaced(fault)
            case FaultClass.KEEP_WARM_GLOW:
                self._add(self._columns(fault.cells[0].matrix, Flag.FED), fault)

    def _columns(self, matrix_id: str, flag: Flag) -> list[Piece]:
        keys = [key for key, _ in self.known if key.matrix == matrix_id and key.side == "column"]
        return [(self.at[key], int(flag), 0) for key in keys]

    def _misplaced(self, fault: Candidate) -> None:
        """Add plugs in the wrong place: their wires are another line's, or on no pin that feeds or reads them."""
        pieces: list[Piece] = []
        for matrix_id in dict.fromkeys(line.matrix for line in fault.lines):
            matrix = self.frames[matrix_id].matrix
            moved = displacement(matrix, fault.fault_class, str(fault.part), fault.other, fault.after)
            met = set(moved.values())
            pieces += self._whole([key for key in moved if key in met], Flag.CROSSED_DRIVEN, Flag.CROSSED_SENSED)
            pieces += self._whole([key for key in moved if key not in met], Flag.PARTED_DRIVEN, Flag.PARTED_SENSED)
        self._add(pieces, fault)

    def _grounded(self, fault: Candidate) -> None:
        """Add a grounded line.

        A driven one of lamps or coils goes dark alone or with all that its fuse feeds: the layout doesn't say which, so
        that both share the chance. So do the ways in which other matrices on the fuse were read before it went or not.
        """
        line = fault.lines[0]
        frame = self.frames[line.matrix]
        own = self._whole(fault.lines, Flag.GROUNDED_DRIVEN, Flag.GROUNDED_SENSED)
        if frame.kind == "switch" or not frame.is_driven(line):
            self._add(own, fault)
            return
        takes_fuse = self.rates.reading.grounded_line_takes_its_fuse
        self._add(own, fault._replace(rate=fault.rate * (1 - takes_fuse)))
        fed = [LineKey(line.matrix, line.side, at + 1) for at in fused_with(frame, line.place - 1)]
        dark = self._whole([key for key in fed if key != line], Flag.PARTED_DRIVEN, Flag.PARTED_SENSED)
        both = int(Flag.GROUNDED_DRIVEN | Flag.PARTED_DRIVEN)
        before = self.earlier.get(line.matrix, frozenset()).intersection(each.matrix for each in fault.fused)
        ways = dict.fromkeys((frozenset[str](), before))
        for spared in ways:
            elsewhere = self._without_supply([each for each in fault.fused if each.matrix not in spared])
            taking = fault._replace(rate=fault.rate * takes_fuse / len(ways))
            self._add([(self.at[line], both, 0), *dark, *elsewhere], taking, spared)

    def _fuse(self, fault: Candidate) -> None:
        self._add(self._without_supply(fault.lines), fault)

    def _without_supply(self, fed: Sequence[LineKey]) -> list[Piece]:
        """Flag lines whose fuse is gone: dark, or all closed where inputs read so without their supply."""
        pieces: list[Piece] = []
        for matrix_id in dict.fromkeys(line.matrix for line in fed):
            lines = [line for line in fed if line.matrix == matrix_id]
            if self.frames[matrix_id].fuse_reads_closed:
                pieces += self._columns(matrix_id, Flag.EVERYTHING)
            else:
                pieces += self._whole(lines, Flag.PARTED_DRIVEN, Flag.PARTED_SENSED)
        return pieces

    def _relay(self, fault: Candidate) -> None:
        pieces: list[Piece] = []
        for matrix_id in dict.fromkeys(line.matrix for line in fault.lines):
            frame = self.frames[matrix_id]
            lines = [line for line in fault.lines if line.matrix == matrix_id]
            if frame.matrix.lines[lines[0]].select != fault.part:
                flags = (
                    (Flag.PARTED_DRIVEN, Flag.PARTED_SENSED)
                    if fault.when == "rest"
                    else (Flag.STUCK_DRIVEN, Flag.STUCK_SENSED)
                )
                pieces += self._whole(lines, *flags)
                continue
            kept = next((at for at, when in frame.selected.items() if when == fault.when), None)
            if kept is not None:
                for at in frame.selected:
                    key = LineKey(matrix_id, "column", at + 1)
                    pieces.append((self.at[key], int(Flag.CHOSEN if at == kept else Flag.UNCHOSEN), 0))
        self._add(pieces, fault)

    def _crossings(self) -> list[Candidate]:
        found = []
        for matrix in self.layout.matrices:
            for side in ("column", "row"):
                lines = [key for key in matrix.lines if key.side == side and not is_common(matrix, key)]
                share = 2 * self.rates.line[FaultClass.CROSSED] / max(len(lines), 1)
                found += [
                    Candidate(FaultClass.CROSSED, None, pair, (), other=pair[1], rate=share)
                    for pair in combinations(lines, 2)
                ]
        return found

    def _breaks(self, lengths: Ints) -> tuple[Unknown, ...]:
        """Add breaks of known chains, one for each count of cells before it; return the unknown chains."""
        rate = self.rates.line["break"]
        unknown = []
        for at, (key, line) in enumerate(self.known):
            flag = self._cut(key)
            count = int(lengths[at])
            if line.chain is None:
                unknown += [Unknown(at, flag, rate)] if count > 1 else []
                continue
            for after in range(1, count):
                candidate = Candidate(FaultClass.BREAK, None, (key,), (), after, rate=rate / (count - 1))
                self._add([(at, flag, after)], candidate)
        return tuple(unknown)

    def _cut(self, key: LineKey) -> int:
        return int(Flag.CUT_DARK if self.frames[key.matrix].is_driven(key) else Flag.CUT)

    def _pieces(
        self, sites: Sequence[Site], site: Ints, chains: Ints, lengths: Ints, cuts: Sequence[int]
    ) -> tuple[Pieces, tuple[Source, ...]]:
        """Lay out the sources that show anything at all, with their pieces as arrays."""
        tables = [effects(one) for one in sites]
        shows: dict[tuple[int, int], bool] = {}
        on_line = [set(site[chains[at, : lengths[at]]].tolist()) for at in range(len(lengths))]

        def visible(piece: Piece) -> bool:
            line, flag, _ = piece
            for one in on_line[line]:
                key = one, flag
                if key not in shows:
                    shows[key] = bool(APPEARANCE[tables[one][flag]] != APPEARANCE[tables[one][0]])
                if shows[key]:
                    return True
            return False

        kept = [
            Source(pieces, tuple(members), self.spared[pieces])
            for pieces, members in self.found.items()
            if any(map(visible, pieces))
        ]
        flags = tuple(dict.fromkeys((*(flag for source in kept for _, flag, _ in source.pieces), *cuts)))
        number = {flag: at for at, flag in enumerate(flags)}
        listed = [
            (at, line, number[flag], start) for at, source in enumerate(kept) for line, flag, start in source.pieces
        ]
        owner, line, flag, start = np.array(listed, dtype=np.int64).reshape(-1, 4).T
        states = np.array([[table[code] for table in tables] for code in flags], dtype=np.int64)
        states = states.reshape(len(flags), len(tables))
        end = (line + 1) * (chains.shape[1] + 1) - 1 - start
        shows_at, row = np.unique(
            APPEARANCE[states] != [APPEARANCE[table[0]] for table in tables], axis=0, return_inverse=True
        )
        return Pieces(owner, line, flag, start, end, flags, states, shows_at, row[flag]), tuple(kept)
