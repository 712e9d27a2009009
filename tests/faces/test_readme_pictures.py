"""The README's pictures are drawn by a command, and are as the program is now."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image, ImageChops

ROOT = Path(__file__).parents[2]
NAMES = ("suspects", "roll", "walk", "phone")
PAGES = ("owner", "technician", "card")
PHONE = ("page-job", "page-roll", "page-walk", "page-card")
SVG = "{http://www.w3.org/2000/svg}"


def draw(out: Path, only: str) -> None:
    """Run the command that draws the pictures."""
    command = [sys.executable, "demo/pictures.py", "--out", str(out), "--only", only]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)


def words(picture: Path) -> str:
    """All that is written on a picture."""
    return " ".join(text.text or "" for text in ElementTree.parse(picture).iter(f"{SVG}text"))


def test_the_readme_shows_each_of_them_and_no_other() -> None:
    shown = re.findall(r"\]\((demo/[\w-]+\.\w+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    kept = [*(f"demo/{name}.svg" for name in NAMES), *(f"demo/{name}.png" for name in (*PAGES, *PHONE))]
    assert sorted(shown) == sorted(kept)


@pytest.mark.slow
def test_the_kept_pictures_are_what_the_program_draws_now(tmp_path: Path) -> None:
    """If not: `python demo/pictures.py`. Of the suspects only the cells that they explain."""
    draw(tmp_path, "screens")
    for name in ("roll", "walk", "phone"):
        kept = (ROOT / "demo" / f"{name}.svg").read_text(encoding="utf-8")
        assert (tmp_path / f"{name}.svg").read_text(encoding="utf-8") == kept, name
    for folder in (ROOT / "demo", tmp_path):
        said = words(folder / "suspects.svg")
        assert "Q3" in said
        assert said.count("◆3") == 6


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_is_small_and_fetches_nothing(name: str) -> None:
    text = (ROOT / "demo" / f"{name}.svg").read_text(encoding="utf-8")
    assert len(text.encode()) < 60_000
    assert re.findall(r"(?:https?:)?//[^\"]+", text) == ["http://www.w3.org/2000/svg"]


@pytest.mark.parametrize("name", [*PAGES, *PHONE])
def test_a_picture_of_a_page_is_small_and_upright(name: str) -> None:
    file = ROOT / "demo" / f"{name}.png"
    assert file.stat().st_size < 200_000
    with Image.open(file) as picture:
        assert picture.width < picture.height < 1200


@pytest.mark.slow
def test_the_kept_pages_are_those_that_the_program_prints_now(tmp_path: Path) -> None:
    """If not: `python demo/pictures.py --only pages`, or `--only phone`.

    Few dots may differ: letters depend on the browser's version.
    """
    draw(tmp_path, "pages")
    draw(tmp_path, "phone")
    for name in (*PAGES, *PHONE):
        with Image.open(ROOT / "demo" / f"{name}.png") as kept, Image.open(tmp_path / f"{name}.png") as drawn:
            assert kept.size == drawn.size
            apart = ImageChops.difference(kept.convert("L"), drawn.convert("L")).histogram()
            assert sum(apart[96:]) < 0.01 * kept.width * kept.height
