"""What the first paint of a job must not wait for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from matrixcheck.bench import Bench
from tests.machines import saltmarsh_tram


def test_a_job_is_read_and_its_screen_made_without_anything_heavy(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(saltmarsh_tram(), "Invented")
    bench.mark(job, "switches", "c1 c2-")
    bench.close()
    code = (
        "import sys; from pathlib import Path; from matrixcheck.bench import Bench; "
        "from matrixcheck.tui.job_session import Desk; "
        "from matrixcheck.tui.app import MatrixCheckApp; from matrixcheck.tui.screens.job import JobScreen; "
        f"bench = Bench(Path({str(bench.path)!r})); app = MatrixCheckApp(bench, {job!r}); "
        f"JobScreen(Desk(bench, {job!r}, app.keeping)); print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert "textual" in loaded
    assert loaded & {"pydantic", "numpy", "rapidfuzz", "tomllib", "tomlkit", "typer", "jinja2"} == set()
    of_use_cases = {
        f"matrixcheck.record.{name}" for name in ("copying", "differences", "photos", "strikes", "versions")
    }
    assert of_use_cases.isdisjoint(done.stdout.split())
