"""The page of figures: one command makes it, section by section, and what is not measured anew stays."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench.__main__ import names, run
from tests.bench.figures import FILE, SECTIONS, measured, page, read_sections
from tests.bench.isolation import main as isolation


def test_every_section_is_a_measurement_with_options_of_its_own() -> None:
    assert {section.command(1)[0] for section in SECTIONS} <= set(names())
    assert len({section.name for section in SECTIONS}) == len({section.title for section in SECTIONS}) == len(SECTIONS)


def test_a_page_is_read_back_as_it_was_written() -> None:
    found = {SECTIONS[2].title: "third\n", SECTIONS[0].title: "first\n\n| a | b |\n"}
    written = page(found)
    assert read_sections(written) == found
    assert page(read_sections(written)) == written
    assert written.index("first") < written.index("third")


def test_a_section_names_its_commit_its_command_and_what_came_out(capsys: pytest.CaptureFixture[str]) -> None:
    command = ["isolation", "--count", "1", "--size", "4"]
    text = measured(command)
    isolation(command[1:])
    assert text.startswith("Commit ")
    assert "python -m tests.bench isolation --count 1 --size 4" in text
    assert capsys.readouterr().out.strip() in text


def test_only_some_sections_are_made_anew(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "figures.md"
    out.write_text(page({"Large matrices": "as before\n", "Tests until isolation": "old\n"}), "utf-8")
    assert run(["figures", "--only", "isolation", "--isolation", "1", "--out", str(out)]) == 0
    assert "isolation: done" in capsys.readouterr().out
    found = read_sections(out.read_text("utf-8"))
    assert found.keys() == {"Large matrices", "Tests until isolation"}
    assert found["Large matrices"] == "as before\n"
    assert "row by row" in found["Tests until isolation"]


def test_the_page_in_the_repository_names_no_folder_of_a_machine() -> None:
    text = FILE.read_text("utf-8")
    assert page(read_sections(text)) == text
    assert not [word for word in ("/home", "/root", "/tmp", "/work") if word in text]
