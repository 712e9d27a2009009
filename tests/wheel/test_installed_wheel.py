"""What a reader installs: the built wheel, away from the checkout, does the main job."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel as the build backend makes it from this checkout."""
    out = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(out)]
    subprocess.run(build, cwd=CHECKOUT, check=True, capture_output=True)
    (made,) = out.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def site(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel unpacked into an import folder of its own; what it depends on comes from the running environment."""
    folder = tmp_path_factory.mktemp("site")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


def run(site: Path, cwd: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """One command of the unpacked wheel, in a folder from which the checkout can't be imported."""
    start = "import sys; from matrixcheck.cli.main import main; sys.exit(main())"
    environment = {**os.environ, "PYTHONPATH": str(site), "PYTHONSAFEPATH": "1", "COLUMNS": "100"}
    environment |= {"MATRIXCHECK_BOOK": str(cwd / "bench.book")}
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", start, *args],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_wheel_is_what_is_imported(site: Path, tmp_path: Path) -> None:
    script = "import matrixcheck; print(matrixcheck.__file__)"
    environment = {**os.environ, "PYTHONPATH": str(site), "PYTHONSAFEPATH": "1"}
    told = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, env=environment, capture_output=True, text=True, check=True
    )
    assert Path(told.stdout.strip()).is_relative_to(site)


def test_the_wheel_carries_every_data_file_of_the_package(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    package = CHECKOUT / "matrixcheck"
    code = {".py", ".tcss", ".toml", ".j2", ".html", ".css", ".js"}
    wanted = {str(file.relative_to(CHECKOUT)) for file in package.rglob("*") if file.suffix in code}
    wanted |= {f"matrixcheck/layouts/{file.name}" for file in (CHECKOUT / "layouts").iterdir()}
    assert wanted - held == set()


def test_a_shipped_layout_opens_by_name_and_a_job_is_kept(site: Path, tmp_path: Path) -> None:
    made = run(site, tmp_path, "job", "new", "saltmarsh-tram", "--name", "Invented tram")
    assert (made.returncode, made.stderr) == (0, "")
    job = made.stdout.strip()
    marked = run(site, tmp_path, "mark", job, "lamps", "20-", "21")
    assert (marked.returncode, marked.stderr) == (0, "")
    told = run(site, tmp_path, "suspects", job, "--json")
    assert (told.returncode, told.stderr) == (0, "")
    cells = {cell["number"]: cell["mark"] for cell in json.loads(told.stdout)["cells"] if "lamps" in cell["cell"]}
    assert (cells[20], cells[21], cells[22]) == ("dead", "working", "untested")


@pytest.mark.slow
@pytest.mark.parametrize("scene", ["evening", "visit"])
def test_the_demonstration_finds_every_planted_fault(site: Path, tmp_path: Path, scene: str) -> None:
    told = run(site, tmp_path, "demo", scene, "--out", str(tmp_path / "out"))
    assert (told.returncode, told.stderr) == (0, "")
    assert (tmp_path / "out" / f"{scene}.html").stat().st_size > 10_000
