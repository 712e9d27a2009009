"""Lines of the machine's own on its lists of checks: what a layout file may say of them, and what it is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from matrixcheck.layout.files import check_layout, parse_layout
from matrixcheck.layout.frozen import from_json, to_json
from matrixcheck.layout.model import Check, Layout

SOUND = """\
format = 1
name = "Test bed"
[[matrix]]
id = "m"
kind = "coil"
cells = [["a", ""]]
[[check]]
section = "before power"
text = "5 V rail"
place = "driver board"
unit = "volts"
least = 4.9
most = 5.2
[[check]]
section = "sound"
text = "knocker"
"""
SECTIONS = "'before power', 'displays', 'sound', 'lighting', 'relays', 'flippers' or 'play test'"
KEYS = "section, text, place, unit, least, most"

SLIPS = [
    ('"sound"', '"sounds"', f"15: check[2].section: must be {SECTIONS}, not 'sounds'; did you mean 'sound'?"),
    ('section = "sound"\n', "", "14: check[2].section: is missing"),
    ('text = "knocker"\n', "", "14: check[2].text: is missing"),
    ('"knocker"', '"  "', "16: check[2].text: is a name of blanks: give a name"),
    ('"knocker"', "7", "16: check[2].text: needs text in quotes, not 7"),
    ('"knocker"', '"knocker"\nq = 1', f"17: check[2].q: is no known key: use one of {KEYS}"),
    ('"knocker"', '"knocker"\nmost = 2', "17: check[2].most: has no unit: give one of ohms, megohms, volts, amps"),
    ('"knocker"', '"knocker"\nunit = "volts"\nmost = 2', "17: check[2].unit: is only for a check before power: the "
     "others are good or faulty"),
    ('"sound"\ntext = "knocker"', '"before power"\ntext = "5 V  Rail"', "16: check[2].text: is '5 V  Rail' again: "
     "check 1 says so already"),
    ('"5 V rail"', '"earth bond: door"', "11: check[1].unit: is not for an earth bond: its limit is that of the mains "
     "lead"),
    ("least = 4.9\nmost = 5.2\n", "", "11: check[1].unit: has no limit: give least, most or both"),
    ("5.2", "4", "12: check[1].least: is 4.9, above most, which is 4"),
    ("5.2", "-1", "13: check[1].most: must be at least 0, not -1"),
    ("5.2", "nan", "13: check[1].most: must be a finite number, not nan"),
    ("5.2", "'5'", "13: check[1].most: needs a number, not '5'"),
    ('"volts"', '"volt"', "11: check[1].unit: must be 'ohms', 'megohms', 'volts' or 'amps', not 'volt'; did you mean "
     "'volts'?"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "expected"), SLIPS)
def test_a_slip_in_a_check_gives_exactly_its_one_line(tmp_path: Path, old: str, new: str, expected: str) -> None:
    path = tmp_path / "machine.toml"
    assert old in SOUND
    path.write_text(SOUND.replace(old, new, 1))
    assert [str(one).removeprefix(f"{path}:") for one in check_layout(path)] == [expected]


def test_a_layout_holds_its_checks_in_their_order_also_in_the_journal() -> None:
    layout = parse_layout(SOUND, "test")
    assert layout.checks == (
        Check(section="before power", text="5 V rail", place="driver board", unit="volts", least=4.9, most=5.2),
        Check(section="sound", text="knocker"),
    )
    assert from_json(Layout, to_json(layout)).checks == layout.checks


def test_one_text_may_stand_on_two_lists(tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    path.write_text(f'{SOUND}[[check]]\nsection = "play test"\ntext = "knocker"\n')
    assert check_layout(path) == ()
