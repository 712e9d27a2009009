"""The electrical values that let the oracle give the example cases' readings to the letter."""

from __future__ import annotations

from tests.spice.wiring import Board

BOARDS = {
    # Its keep-warm LEDs are written down as faint, in the other banks as bright.
    "coil-4": Board(flash_led_bright=0.6),
    # Here the LED stands right at the border, and one strong coil on the same side pulls it below.
    "coil-7": Board(flash_led_bright=0.495, coil_ohms={(6, 1): 6.0}),
}


def board_of(case: str) -> Board:
    """The board of an example case."""
    return BOARDS.get(case, Board())
