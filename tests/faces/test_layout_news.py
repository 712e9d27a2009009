"""The head of a job's screen says when the file of its layout changed since."""

from __future__ import annotations

from pathlib import Path

from pilots import AT_EACH_SIZE, CannedBench, Run

from matrixcheck.layout.files import read_found
from matrixcheck.layout.shipped import shipped


@AT_EACH_SIZE
async def test_a_changed_layout_file_is_a_line_of_its_own_at_the_head(
    run: Run, bench: CannedBench, job: str, tmp_path: Path, size: tuple[int, int]
) -> None:
    mine = tmp_path / "mine.toml"
    text = shipped()["saltmarsh-tram"].read_text(encoding="utf-8")
    mine.write_text(text, encoding="utf-8")
    bench.relayout(job, *read_found(str(mine)))
    async with run(size) as machine:
        assert "the layout file" not in machine.text()
        mine.write_text(text.replace('"tram stop 3"', '"tram stop three"'), encoding="utf-8")
        await machine.press("enter")
        await machine.settle()
        assert "the layout file changed" in machine.text()
        assert len(machine.text().splitlines()) == size[1]
        bench.relayout(job, *read_found(str(mine)))
        await machine.press("down", "enter")
        await machine.settle()
        assert "the layout file" not in machine.text()
        mine.unlink()
        await machine.press("down", "enter")
        await machine.settle()
        assert "the layout file is not there" in machine.text()
