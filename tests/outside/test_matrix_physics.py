"""The forward model against published matrix behaviour and against DC operating points with real diode models.

Sources: Dribin, *Keyboard Matrix Help* (2000), ghosting and masking (text; which letter lies where is inferred); QMK
documentation, *How a keyboard matrix works* (text); the circuit simulator `neospice` (PyPI, MIT), whose diode and LED
parameters and driver resistances are common practice, no source.

The sample: for every kind and size (switch with and without diodes and lamp 8x8 and 4x6, coil bank 8x2 and 4x2) one
seeded bank, for every fault class two seeded places (the second, and the larger size, in the long run) and every
exercise there is; switches with nothing, two cells and a diagonal held; switches sensed at 12 V with inputs that switch
low, at a quarter and at half of it (each class in one of these ways, in all in the long run). Beside them a bank of
direct inputs and one of lighting strings, whose rows are not shared.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest

from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from tests.bench.cases import CELL_CLASSES, LINE_CLASSES, classes_for, draw_fault, warm_leds
from tests.bench.layouts import draw_bank, layout_text
from tests.spice.against import Difference, differences
from tests.spice.bank import Bank, Conductor, Fault, Place
from tests.spice.simulate import Exercise
from tests.spice.switches import scan
from tests.spice.wiring import Board, Wiring

SIZES = (
    *(("switch", (8, 8)), ("switch", (4, 6)), ("lamp", (8, 8)), ("lamp", (4, 6)), ("coil", (8, 2)), ("coil", (4, 2))),
    *(("bare", (8, 8)), ("bare", (4, 6))),  # switches without diodes
    *(("inputs", (0, 0)), ("strings", (0, 0))),  # these draw their own size
)
PLACES = 2
BOTH_SIZES = pytest.mark.parametrize("size", [pytest.param((8, 8), marks=pytest.mark.slow), (4, 6)], ids=str)

A, B, C, D = (1, 1), (1, 2), (2, 1), (2, 2)  # Dribin's keys: column 1 row 1, column 2 row 1, column 1 row 2, the last


def _two_by_two(diodes: bool) -> Bank:
    lines = {key: Conductor(key) for key in ("c1", "c2", "r1", "r2")}
    return Bank("m", "switch", 5.0, 2, 2, frozenset((A, B, C, D)), lines, diodes=diodes)


@pytest.mark.parametrize(
    ("diodes", "pressed", "seen"),
    [
        pytest.param(False, {A, B, D}, {A, B, C, D}, id="Dribin: A, B and D down show C as a phantom"),
        pytest.param(False, {A, B, C, D}, {A, B, C, D}, id="Dribin: with C down as well"),
        pytest.param(False, {A, C, D}, {A, B, C, D}, id="Dribin: letting go of B then goes unseen"),
        pytest.param(True, {A, B, D}, {A, B, D}, id="Dribin: with diodes column 1 reads row 1 only"),
        pytest.param(True, {A, C, D}, {A, C, D}, id="Dribin: with diodes letting go of B is seen"),
        pytest.param(False, {(1, 1), (1, 2), (2, 2)}, {A, B, C, D}, id="QMK: keys 0, 1, 3: both columns read 0b11"),
        pytest.param(True, {(1, 1), (1, 2), (2, 2)}, {A, B, D}, id="QMK: with diodes 0b01 and 0b11"),
    ],
)
def test_ghosting_and_masking_are_as_published(diodes: bool, pressed: set[Place], seen: set[Place]) -> None:
    bank = _two_by_two(diodes)
    assert scan(bank, Wiring(bank, ()), Board(), frozenset(pressed)) == seen
    layout = parse_layout(layout_text(bank, frozenset()), "two by two")
    held = tuple(sorted(pressed))
    plan = (Exercise(None, held), *(Exercise(cell, tuple(p for p in held if p != cell)) for cell in held))
    assert differences(bank, layout, (), Board(), plan) == []


def _bank(kind: str, size: Place) -> tuple[random.Random, Bank]:
    rng = random.Random(f"physics {kind} {size}")
    return rng, draw_bank(rng, kind, size)


def _board(bank: Bank, strong: bool = False, polar: bool = True) -> Board:
    """Two diode drops read closed and three do not: with more current through them at 12 V the drops are larger."""
    return Board(threshold=1.7 if bank.volts < 9 else 2.1, strong=strong, polar=polar)


def _plans(rng: random.Random, bank: Bank) -> list[tuple[Exercise, ...]]:
    cells = sorted(bank.fitted)
    holds: list[tuple[Place, ...]] = [()]
    if bank.kind == "switch" and bank.shared:
        holds += [tuple(sorted(rng.sample(cells, 2))), tuple(place for place in cells if place[0] == place[1])]
    return [
        (Exercise(None, held), *(Exercise(cell, tuple(p for p in held if p != cell)) for cell in cells))
        for held in holds
    ]


@cache
def _read(text: str) -> Layout:
    """Return the layout of a bank, which many faults are put into: reading it takes longer than what is compared."""
    return parse_layout(text, "a drawn bank")


def _found(bank: Bank, faults: tuple[Fault, ...], plans: list[tuple[Exercise, ...]], board: Board) -> list[Difference]:
    layout = _read(layout_text(bank, frozenset(bank.lines)))
    return [each for plan in plans for each in differences(bank, layout, faults, board, plan)]


@pytest.mark.parametrize(("kind", "size"), SIZES)
def test_a_healthy_bank_shows_what_the_simulator_says(kind: str, size: Place) -> None:
    rng, bank = _bank(kind, size)
    assert _found(bank, (), _plans(rng, bank), _board(bank)) == []


AT_12_VOLTS = {"12 V, switching as at 5 V": 2.1, "12 V, switching at a quarter": 3.0, "12 V, switching at half": 5.5}


def _at_12_volts(bank: Bank) -> Bank:
    return replace(bank, volts=12.0, supply=("F9",))


def _asked() -> Iterator[tuple[str, Place, str, str]]:
    """Every class that a kind can have; what the layout leaves unsaid is put both ways where it matters."""
    for kind, size in SIZES:
        for fault_class in classes_for(_bank(kind, size)[1]):
            grounded = fault_class == "grounded"
            if not (grounded and kind == "coil"):  # nothing but its fuse stands between a side and its supply
                yield kind, size, fault_class, "as usual"
            if grounded and kind not in ("switch", "bare", "inputs"):
                yield kind, size, fault_class, "the fuse goes"
            if kind == "lamp" and fault_class in ("diode-shorted", "diode-reversed"):
                yield kind, size, fault_class, "LEDs conduct both ways"
    for kind in ("switch", "bare"):
        for fault_class in classes_for(_at_12_volts(_bank(kind, (4, 6))[1])):
            for unsaid in AT_12_VOLTS:
                yield kind, (4, 6), fault_class, unsaid


def _sampled(asked: tuple[str, Place, str, str]) -> object:
    """What is asked of the larger size of a kind is left to the long run, and at 12 V two of the three thresholds: each
    class has one, by turns."""
    _, size, fault_class, unsaid = asked
    turn = [*FaultClass].index(FaultClass(fault_class))
    left = size[0] == 8 or (unsaid in AT_12_VOLTS and unsaid != list(AT_12_VOLTS)[turn % len(AT_12_VOLTS)])
    return pytest.param(*asked, marks=pytest.mark.slow) if left else asked


@pytest.mark.parametrize("place", [0, *(pytest.param(place, marks=pytest.mark.slow) for place in range(1, PLACES))])
@pytest.mark.parametrize(("kind", "size", "fault_class", "unsaid"), [_sampled(each) for each in _asked()])
def test_every_fault_class_shows_what_the_simulator_says(
    kind: str, size: Place, fault_class: str, unsaid: str, place: int
) -> None:
    rng, bank = _bank(kind, size)
    board = _board(bank, strong=unsaid == "the fuse goes", polar=unsaid != "LEDs conduct both ways")
    if unsaid in AT_12_VOLTS:
        bank, board = _at_12_volts(bank), replace(board, threshold=AT_12_VOLTS[unsaid])
    drawn = [(draw_fault(rng, bank, fault_class), _plans(rng, bank)) for _ in range(place + 1)]
    fault, plans = drawn[place]
    for plan in plans:
        found = _found(bank, (fault,), [plan], board)
        assert found == [], f"{fault} with {plan[0].held} held"


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("kind", ["switch", "bare", "lamp", "coil"])
def test_two_faults_at_once_show_what_the_simulator_says(kind: str, seed: int) -> None:
    rng = random.Random(f"pair {seed}")
    bank = draw_bank(rng, kind, (4, 6) if kind != "coil" else (6, 2))
    classes = [name for name in classes_for(bank) if name != "grounded"]
    first, second = (draw_fault(rng, bank, name) for name in rng.sample(classes, 2))
    assert _found(bank, (first, second), _plans(rng, bank), _board(bank)) == [], (first, second)


@pytest.mark.parametrize("odd", ["diode-shorted", "diode-reversed"])
@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_an_odd_diode_beyond_a_break_shows_what_the_simulator_says(kind: str, odd: str) -> None:
    """The far end of the wire floats, and still joins what hangs on it."""
    rng = random.Random(f"beyond {kind} {odd}")
    for _ in range(6):
        bank = draw_bank(rng, kind, (8, 2) if kind == "coil" else (4, 6))
        broken = draw_fault(rng, bank, "break")
        place = rng.choice(bank.cells_of(broken.lines[0])[broken.after :])
        faults = (broken, Fault(odd, cells=(place,)))
        assert _found(bank, faults, _plans(rng, bank), _board(bank)) == [], faults


@pytest.mark.parametrize("odd", ["diode-shorted", "diode-reversed"])
@BOTH_SIZES
def test_an_odd_diode_on_a_row_at_ground_shows_what_the_simulator_says(size: Place, odd: str) -> None:
    """At 5 V a reversed one drags its column down by a single drop, so that every switch closed to it reads closed."""
    rng = random.Random(f"at ground {size} {odd}")
    for _ in range(4):
        bank = replace(draw_bank(rng, "switch", size), volts=5.0)
        odd_diode = draw_fault(rng, bank, odd)
        faults = (odd_diode, Fault("grounded", lines=(f"r{odd_diode.cells[0][0]}",)))
        assert _found(bank, faults, _plans(rng, bank), _board(bank)) == [], faults


@pytest.mark.parametrize("odd", ["diode-shorted", "diode-reversed"])
def test_a_filament_that_is_kept_warm_doesnt_glow_for_its_odd_diode_alone(odd: str) -> None:
    """Where a filament is just seen to glow is not known, so that drawn banks may differ there: this one is clear."""
    warm = {"fitted": "filament", "device": "flash lamp", "keep_warm": {"ohms": 540, "volts": 35}}
    rows, sides = range(1, 5), {"c1": "rest", "c2": "pulled"}
    lines = {side: Conductor(side, when=when) for side, when in sides.items()} | {
        f"r{r}": Conductor(f"r{r}") for r in rows
    }
    fitted = frozenset((r, c) for r in rows for c in (1, 2))
    bank = Bank("m", "coil", 35.0, 4, 2, fitted, lines, ("F9",), notes={(2, 2): warm, (3, 2): warm})
    fault = Fault(odd, cells=((2, 2),))
    assert _found(bank, (fault,), _plans(random.Random(1), bank), _board(bank)) == []


def test_a_shorted_and_a_reversed_diode_lead_round_through_two_drops_at_5_volts() -> None:
    bank = _two_by_two(diodes=True)
    faults = (Fault("diode-shorted", cells=(A,)), Fault("diode-reversed", cells=(D,)))
    for held in ((A, B, C, D), (A, B, D), (A, C, D), (B, C, D)):
        plan = (Exercise(None, held), *(Exercise(cell, tuple(p for p in held if p != cell)) for cell in held))
        assert _found(bank, faults, [plan], _board(bank)) == [], held


@pytest.mark.parametrize(
    ("kind", "fault_class"),
    [
        *(("switch", fault_class) for fault_class in (*LINE_CLASSES, *CELL_CLASSES)),
        *(("bare", fault_class) for fault_class in (*LINE_CLASSES, *CELL_CLASSES[:2])),
    ],
)
def test_rows_strobed_instead_of_columns_show_what_the_simulator_says(kind: str, fault_class: str) -> None:
    rng, bank = _bank(kind, (4, 6))
    bank = replace(bank, strobe="row")
    fault = draw_fault(rng, bank, fault_class)
    assert _found(bank, (fault,), _plans(rng, bank), _board(bank)) == []


def test_keep_warm_leds_that_are_fed_past_the_relay_show_what_the_simulator_says() -> None:
    rng = random.Random("warm")
    bank = next(bank for bank in iter(lambda: draw_bank(rng, "coil", (8, 2)), None) if warm_leds(bank))
    glow = draw_fault(rng, bank, "keep-warm-glow")
    assert _found(bank, (glow,), _plans(rng, bank), _board(bank)) == []
    blown = Fault("fuse-blown", "F9", ("c1", "c2"))
    fused = replace(bank, supply=("F9",))
    assert _found(fused, (glow, blown), _plans(rng, fused), _board(fused)) == []
    for column in ("c1", "c2"):
        cells = bank.cells_of(column)
        broken = Fault("break", None, (column,), tuple(cells[1:]), 1)
        assert _found(bank, (glow, broken), _plans(rng, bank), _board(bank)) == [], column


def test_listed_a_coil_of_the_wrong_resistance_shows_in_its_resistance_alone() -> None:
    """Why no list of what answered tells it: at half or twice the resistance due it still pulls, and no other does."""
    rng, bank = _bank("coil", (8, 2))
    coils = [place for place in sorted(bank.fitted) if bank.lamp(place) is None]
    due = bank.volts / 1.5
    for share in (0.5, 2.0):
        board = replace(_board(bank), coil_ohms={coils[0]: due * share})
        for faults in ((), (Fault("wrong-device", cells=(coils[0],)),)):
            assert _found(bank, faults, _plans(rng, bank), board) == []


def _in_halves(bank: Bank) -> Bank:
    """The bank with two like plugs a side, each with half of its lines."""
    lines = {}
    for side, letter in (("c", "J"), ("r", "P")):
        keys = [key for key in bank.lines if key[0] == side]
        for at, key in enumerate(keys):
            half, contact = divmod(at, max(len(keys) // 2, 1))
            path = tuple(ref for ref in bank.lines[key].path if ref[0] != "X")
            lines[key] = replace(bank.lines[key], path=(*path, f"{letter}{half + 1}-{contact + 1}"))
    return replace(bank, lines=lines)


def _misplaced(bank: Bank) -> list[Fault]:
    """Every plug of a bank one pin off, either way, and every two plugs of one side with the same contacts."""
    contacts: dict[tuple[str, str], set[str]] = {}
    for key, line in bank.lines.items():
        plug, _, contact = next(ref for ref in line.path if ref[0] in "XJP").partition("-")
        contacts.setdefault((key[0], plug), set()).add(contact)
    shifted = [Fault("plug-shifted", plug, after=step) for _, plug in contacts for step in (1, -1)]
    pairs = [pair for pair in combinations(contacts, 2) if pair[0][0] == pair[1][0]]
    return shifted + [
        Fault("plugs-swapped", one[1], other=other[1]) for one, other in pairs if contacts[one] == contacts[other]
    ]


SMALL = [one for one in SIZES if one[1] < (8, 8)]
LARGE = [*(one for one in SIZES if one[1] >= (8, 8)), ("switch", (8, 10)), ("lamp", (8, 10))]


@pytest.mark.parametrize(("kind", "size"), [*SMALL, *(pytest.param(*one, marks=pytest.mark.slow) for one in LARGE)])
def test_plugs_in_the_wrong_place_show_what_the_simulator_says(kind: str, size: Place) -> None:
    rng, drawn = _bank(kind, size)
    for bank in (drawn, _in_halves(drawn)):
        for fault in _misplaced(bank):
            for plan in _plans(rng, bank):
                assert _found(bank, (fault,), [plan], _board(bank)) == [], fault


@pytest.mark.parametrize("kind", ["switch", "bare", "lamp", "coil"])
def test_a_plug_in_the_wrong_place_beside_another_fault_shows_what_the_simulator_says(kind: str) -> None:
    rng = random.Random(f"misplaced beside {kind}")
    for _ in range(4):
        bank = _in_halves(draw_bank(rng, kind, (4, 8) if kind != "coil" else (6, 2)))
        classes = [name for name in classes_for(bank) if name not in ("grounded", "open", "unplugged")]
        faults = rng.choice(_misplaced(bank)), draw_fault(rng, bank, rng.choice(classes))
        assert _found(bank, faults, _plans(rng, bank), _board(bank)) == [], faults


@pytest.mark.parametrize(("kind", "size"), SIZES[:6])
def test_on_both_sides_of_a_bank_in_halves_plugs_can_be_swapped(kind: str, size: Place) -> None:
    swapped = {fault.part for fault in _misplaced(_in_halves(_bank(kind, size)[1])) if fault.fault == "plugs-swapped"}
    assert swapped == {"J1", "P1"}


def test_every_fault_class_is_put_to_the_simulator() -> None:
    """Those that no bank above draws have a test of their own."""
    put = {fault_class for _, _, fault_class, _ in _asked()} | {"keep-warm-glow", "wrong-device"}
    put |= {fault.fault for fault in _misplaced(_in_halves(_bank("lamp", (8, 8))[1]))}
    assert put == {str(each) for each in FaultClass}


def test_a_high_sense_threshold_lets_a_reversed_diode_echo() -> None:
    """Three diode drops read closed if a 12 V input switches at half its supply, which no layout says: the project
    takes it as a setting of its own."""
    bank = replace(_two_by_two(diodes=True), volts=12.0)
    reversed_diode = (Fault("diode-reversed", cells=(D,)),)
    held = frozenset((B, C, D))
    assert A not in scan(bank, Wiring(bank, reversed_diode), Board(threshold=2.1), held)
    assert A in scan(bank, Wiring(bank, reversed_diode), Board(threshold=5.5), held)
    plan = (Exercise(None, (B, C, D)), Exercise(A, (B, C, D)), Exercise(B, (C, D)), Exercise(D, (B, C)))
    for threshold in (2.1, 5.5):
        assert _found(bank, reversed_diode, [plan], Board(threshold=threshold)) == []


@BOTH_SIZES
@pytest.mark.parametrize("threshold", [2.1, 3.0, 5.5])
def test_a_reversed_diode_at_12_volts_shows_what_the_simulator_says(size: Place, threshold: float) -> None:
    rng, drawn = _bank("switch", size)
    bank = replace(drawn, volts=12.0)
    for plan in _plans(rng, bank):
        held = plan[0].held or (sorted(bank.fitted)[0],)
        for place in (held[0], held[-1]):
            reversed_diode = (Fault("diode-reversed", cells=(place,)),)
            assert _found(bank, reversed_diode, [plan], Board(threshold=threshold)) == []
