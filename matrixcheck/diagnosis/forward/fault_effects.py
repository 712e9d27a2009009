"""What a set of faults does to one matrix: which driver reaches which line, which cells conduct, what is always on.

A line's driver or input sits at its logic end; an open or an unplugged connector parts it from the wire; a crossing, or
a plug in the wrong place, leads it to another wire; a short joins wires; a break takes cells off the wire's far end.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.forward.line_side import LineSide
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.matrix_frame import Floats, Frame
from matrixcheck.diagnosis.machine.plugs import displacement
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.places import LineKey

Place = tuple[int, int]


class Condition(NamedTuple):
    """A faulty matrix.

    Arrays hold 0.0 or 1.0; None stands for "as built", which saves the product.
    `drive[command, line]`: commanding (or scanning) this driven line pulls that one. `sense[input, line]`: likewise.
    `always_driven[line]`: pulled whatever is commanded. `always_sensed[input]`: reads low, or sinks, at all times.
    `works[sensed, driven]`: the cell conducts when closed or lit. `held_on[sensed, driven]`: closed at all times.
    `shorted`, `reversed_`: places of odd diodes. `joined_driven`, `joined_sensed`: pairs of wires that touch.
    `earthed`: driven wires of lamps or coils that lie at ground. `everything[input]`: reads
    closed at all times, as its supply is gone; None where it isn't.
    `lit[sensed, driven]`: the device passes a keep-warm current, whatever its diode does.
    `both_ways`: LEDs pass current both ways. `high_inputs`: see `Setting`.
    `fed_directly[driven]`: LEDs on keep-warm resistors of this line are fed whatever line is live, also beyond a break.
    `blowing`: the driven lines whose feed takes the fuse, after which the matrix is in the condition `after`.
    `stubs`: what breaks cut off.
    """

    drive: Floats | None
    sense: Floats | None
    always_driven: Floats | None
    always_sensed: Floats | None
    sunk: Floats | None
    works: Floats
    held_on: Floats | None
    shorted: tuple[Place, ...]
    reversed_: tuple[Place, ...]
    joined_driven: tuple[Place, ...]
    joined_sensed: tuple[Place, ...]
    earthed: tuple[int, ...]
    everything: Floats | None
    lit: Floats
    both_ways: bool
    fed_directly: Floats | None = None
    blowing: frozenset[int] = frozenset()
    high_inputs: bool = False
    after: Condition | None = None
    stubs: tuple[Stub, ...] = ()


class Stub(NamedTuple):
    """The far end of a broken wire, with the places that still hang on it.

    They are lost to the line, but still joined to each other. Of nested ones, a place hangs on the smallest.
    `driven`: the wire is a driven one.
    """

    driven: bool
    places: frozenset[Place]


class Fuse(IntEnum):
    """What a grounded driven line of lamps or coils does to its fuse; the layout doesn't say how strong a driver is."""

    HOLDS = 0
    GOES = 1
    GONE = 2


class Setting(NamedTuple):
    """What a layout leaves unsaid and a fault's readings depend on.

    `fuse`: whether a grounded driven line takes its fuse with it. `spared`: matrices that were read before it did, of
    those that this fuse feeds as well: nothing of it shows there. `both_ways`: LEDs pass current both ways (those with
    a rectifier do). `high_inputs`: inputs switch at about half a supply of 12 V, so that what comes round through a
    reversed diode reads closed. `loose`: faults that come and go from reading to reading.
    """

    fuse: Fuse = Fuse.HOLDS
    both_ways: bool = False
    high_inputs: bool = False
    loose: frozenset[Candidate] = frozenset()
    spared: frozenset[str] = frozenset()


USUAL = Setting()


def joint(settings: Iterable[Setting]) -> Setting:
    """Return the setting of several faults together: what any of them needs."""
    unusual = [setting for setting in settings if setting is not USUAL]
    if not unusual:
        return USUAL
    fuse, both_ways, high_inputs = Fuse.HOLDS, False, False
    loose: frozenset[Candidate] = frozenset()
    spared: frozenset[str] = frozenset()
    for setting in unusual:
        fuse, both_ways = max(fuse, setting.fuse), both_ways or setting.both_ways
        high_inputs = high_inputs or setting.high_inputs
        loose |= setting.loose
        spared |= setting.spared
    found = Setting(fuse, both_ways, high_inputs, loose, spared)
    return USUAL if found == USUAL else found


class Fitting(NamedTuple):
    """How a fault was fitted to readings.

    `setting`: that of its set, but for what comes and goes. `loose`: the fault itself does.
    """

    setting: Setting = USUAL
    loose: bool = False


def fitting_of(fault: Candidate, setting: Setting) -> Fitting:
    """Return how a fault of a set in that setting was fitted."""
    return Fitting(setting._replace(loose=frozenset()), fault in setting.loose) if setting.loose else Fitting(setting)


def condition_of(frame: Frame, faults: Iterable[Candidate], setting: Setting = USUAL) -> Condition:
    """Return the matrix with these faults; those of other matrices are passed over."""
    if setting.fuse is not Fuse.GOES:
        return _Builder(frame, setting, setting.fuse is Fuse.GONE).build(faults)
    known = tuple(faults)
    before = _Builder(frame, setting, blown=False).build(known)
    if not before.blowing:
        return before
    return before._replace(after=_Builder(frame, setting, blown=True).build(known))


class _Builder:
    """The effects of one fault after the other on one matrix, until the condition is asked for."""

    def __init__(self, frame: Frame, setting: Setting, blown: bool) -> None:
        self.frame = frame
        self.setting = setting
        self.blown = blown
        senses, drives = frame.shape
        self.driven = LineSide(drives)
        self.sensed = LineSide(senses)
        self.works: Floats | None = None
        self.lit: Floats | None = None
        self.held_on: Floats | None = None
        self.shorted: list[Place] = []
        self.reversed: list[Place] = []
        self.relay: int | None = None
        self.everything = False
        self.fed_directly = False
        self.without_fuse: set[int] = set()
        self.stubs: list[Stub] = []
        self.beyond_breaks: set[Place] = set()
        self.out_of_order: set[Place] = set()

    def build(self, faults: Iterable[Candidate]) -> Condition:
        matrix_id = self.frame.matrix.id
        for fault in faults:
            if fault.lines:
                self._lines(fault, [line for line in fault.lines if line.matrix == matrix_id])
                if self.setting.fuse is not Fuse.HOLDS and matrix_id not in self.setting.spared:
                    self._take_fuse([line for line in fault.fused if line.matrix == matrix_id])
            elif fault.cells[0].matrix == matrix_id:
                self._cell(fault)
        for place in self.beyond_breaks:
            if not (self.fed_directly and self.frame.warm_leds[place]):
                self._kill(place, dark=True)
        return self._condition()

    def _take_fuse(self, lines: list[LineKey]) -> None:
        """Let the fuse of these lines go with a grounded line of another matrix."""
        if lines:
            self._blow(self._places(lines))

    def _places(self, lines: list[LineKey]) -> list[tuple[LineSide, int]]:
        return [(self.driven if self.frame.is_driven(line) else self.sensed, line.place - 1) for line in lines]

    def _lines(self, fault: Candidate, lines: list[LineKey]) -> None:
        places = self._places(lines)
        if not places:
            return
        side, index = places[0]
        match fault.fault_class:
            case FaultClass.OPEN | FaultClass.UNPLUGGED:
                chip = fault.part is not None and part_class(fault.part) == "integrated circuit"
                for each, place in places:
                    (each.muted if chip else each.parted).add(place)
            case FaultClass.FUSE_BLOWN:
                self._blow(places)
            case FaultClass.STUCK_ON:
                side.stuck.add(index)
            case FaultClass.GROUNDED:
                side.grounded.add(index)
            case FaultClass.SHORTED_TOGETHER:
                side.shorted.append((index, places[1][1]))
            case FaultClass.CROSSED:
                side.crossed.append((index, places[1][1]))
            case FaultClass.PLUGS_SWAPPED | FaultClass.PLUG_SHIFTED:
                self._displace(fault)
            case FaultClass.BREAK:
                self._break(side is self.driven, [self.frame.at(cell) for cell in fault.cells])
            case FaultClass.RELAY_STUCK:
                self._relay(fault, lines, places)

    def _displace(self, fault: Candidate) -> None:
        """Let each line of a plug in the wrong place meet the wire that its pin meets now."""
        moved = displacement(self.frame.matrix, fault.fault_class, str(fault.part), fault.other, fault.after)
        for side, driven in ((self.driven, True), (self.sensed, False)):
            pins = {
                end.place - 1: None if wire is None else wire.place - 1
                for end, wire in moved.items()
                if self.frame.is_driven(end) == driven
            }
            if pins:
                side.displaced.append(pins)

    def _break(self, driven: bool, lost: list[Place]) -> None:
        """Cut places off a line's wire, a driven or a sensed one."""
        if driven:
            self.beyond_breaks.update(lost)
        else:
            for place in lost:
                self._kill(place, dark=False)
        self.stubs.append(Stub(driven, frozenset(lost)))

    def _relay(self, fault: Candidate, lines: list[LineKey], places: list[tuple[LineSide, int]]) -> None:
        """Add a stuck relay.

        A changeover relay keeps its side selected; one in the path of lines keeps them dark, or fed.
        """
        if self.frame.matrix.lines[lines[0]].select == fault.part:
            stuck = [column for column, when in self.frame.selected.items() if when == fault.when]
            self.relay = stuck[0] if stuck else None
            return
        for side, place in places:
            (side.parted if fault.when == "rest" else side.stuck).add(place)

    def _blow(self, places: list[tuple[LineSide, int]]) -> None:
        if self.frame.fuse_reads_closed:
            self.everything = True
        for side, place in places:
            side.parted.add(place)
            if side is self.driven:
                self.without_fuse.add(place)

    def _cell(self, fault: Candidate) -> None:
        place = self.frame.at(fault.cells[0])
        match fault.fault_class:
            case FaultClass.DEVICE_DEAD | FaultClass.DIODE_OPEN:
                self.out_of_order.add(place)
                self._kill(place, dark=fault.fault_class is FaultClass.DEVICE_DEAD)
            case FaultClass.DIODE_REVERSED:
                self._kill(place, dark=False)
                self.reversed.append(place)
            case FaultClass.DIODE_SHORTED:
                self.shorted.append(place)
            case FaultClass.DEVICE_STUCK:
                if self.held_on is None:
                    self.held_on = np.zeros(self.frame.shape)
                self.held_on[place] = 1.0
            case FaultClass.KEEP_WARM_GLOW:
                self.fed_directly = True

    def _kill(self, place: Place, dark: bool) -> None:
        """Make the cell do nothing more; `dark`: not even a keep-warm current passes it."""
        if self.works is None:
            self.works, self.lit = self.frame.fitted.copy(), self.frame.fitted.copy()
        self.works[place] = 0.0
        if dark and self.lit is not None:
            self.lit[place] = 0.0

    def _condition(self) -> Condition:
        drive, always, blowing = self._driven()
        sense, always_sensed, sunk = self._sensed()
        works = self.frame.fitted if self.works is None else self.works
        held_on = None if self.held_on is None else self.held_on * works
        shorted = tuple(sorted(set(self.shorted)))
        return Condition(
            drive,
            sense,
            always,
            always_sensed,
            sunk,
            works,
            held_on,
            shorted,
            tuple(self.reversed),
            tuple(self.driven.shorted),
            tuple(self.sensed.shorted),
            () if self.frame.kind == "switch" else self.driven.grounded_wires(),
            self._reading_closed(),
            self.frame.fitted if self.lit is None else self.lit,
            self.setting.both_ways,
            self._fed_directly(),
            blowing,
            high_inputs=self.setting.high_inputs and self.frame.fuse_reads_closed,
            stubs=tuple(Stub(stub.driven, stub.places - self.out_of_order) for stub in self.stubs),
        )

    def _reading_closed(self) -> Floats | None:
        """Return the inputs that read closed without their supply: all but those of a dead chip."""
        if not self.everything:
            return None
        found = np.ones(self.sensed.count)
        found[sorted(self.sensed.muted)] = 0.0
        return found

    def _fed_directly(self) -> Floats | None:
        if not self.fed_directly:
            return None
        fed = np.ones(self.driven.count)
        fed[list(self.without_fuse)] = 0.0
        return fed

    def _driven(self) -> tuple[Floats | None, Floats | None, frozenset[int]]:
        """Return which command drives which wire, which wires always are driven, which commands feed a grounded one."""
        side = self.driven
        if self.blown and side.grounded and self.frame.kind != "switch":
            feeding = side.reach()[:, list(side.grounded_wires())].any(axis=1)
            side.parted.update(*(fused_with(self.frame, index) for index in map(int, np.flatnonzero(feeding))))
        if side.plain and not side.stuck and not side.grounded and self.relay is None:
            return None, None, frozenset()
        reach = side.reach()
        always = np.zeros(side.count)
        for index in side.stuck:
            always = np.maximum(always, reach[index])
        reach = side.without_muted(reach)
        if self.relay is not None:
            selected = list(self.frame.selected)
            reach[selected] = reach[self.relay]
        blowing: frozenset[int] = frozenset()
        if side.grounded:
            wires = list(side.grounded_wires())
            blowing = frozenset(map(int, np.flatnonzero(reach[:, wires].any(axis=1) | always[wires].any())))
            if self.frame.kind == "switch":
                always[wires] = 1.0
            else:
                always[wires] = 0.0
                reach[:, wires] = 0.0
        return reach, always if side.stuck or side.grounded else None, blowing

    def _sensed(self) -> tuple[Floats | None, Floats | None, Floats | None]:
        """Return which input sees which wire, which inputs always read low, and which wires are always sunk.

        A driver that is stuck sinks its wire, an input that is stuck does not.
        """
        side = self.sensed
        if side.plain and not side.stuck and not side.grounded:
            return None, None, None
        reach = side.reach()
        if not side.stuck and not side.grounded:
            return side.without_muted(reach), None, None
        sunk = np.zeros(side.count)
        if self.frame.kind != "switch":
            for index in side.stuck:
                sunk = np.maximum(sunk, reach[index])
        sunk[list(side.grounded_wires())] = 1.0
        reach = side.without_muted(reach)
        low = (reach @ sunk > 0).astype(np.float64)
        low[list(side.stuck)] = 1.0
        return (None if side.plain else reach), low if low.any() else None, sunk if sunk.any() else None


def fused_with(frame: Frame, driven: int) -> list[int]:
    """Return the driven lines that share a supply with this one and go dark with its fuse; all if none is known."""
    matrix = frame.matrix
    lines = matrix.columns if frame.drive_side == "column" else matrix.rows
    own = set(lines[driven].supply) | set(matrix.supply)
    if not own:
        return list(range(len(lines)))
    return [index for index, line in enumerate(lines) if own & (set(line.supply) | set(matrix.supply))]
