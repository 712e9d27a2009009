"""A layout from nothing, in options or asked for on a terminal; and the layouts that come with the program."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.cli.main import main
from matrixcheck.errors import UsageError
from matrixcheck.layout.blank import SHAPES, blank_layout, example_place, plan_of, scheme_of
from matrixcheck.layout.files import check_layout, parse_layout, read_layout, shipped
from matrixcheck.layout.numbering import SCHEMES, number_of

START = "import sys; from matrixcheck.cli.main import main; sys.exit(main())"
CHARTS = Path(__file__).parents[1] / "data" / "charts"

plans = st.builds(
    "{} {}x{} {}".format,
    st.sampled_from(list(SHAPES)),
    st.integers(1, 20),
    st.integers(1, 20),
    st.sampled_from(SCHEMES),
)


@given(st.lists(plans, min_size=1, max_size=4))
@settings(max_examples=40)
def test_what_is_asked_for_is_a_layout_without_problems(texts: list[str]) -> None:
    asked = [plan_of(text) for text in texts]
    layout = parse_layout(blank_layout('Invented "new" one', asked), "new")
    assert [matrix.size for matrix in layout.matrices] == [(plan.rows, plan.columns) for plan in asked]
    assert [matrix.numbering for matrix in layout.matrices] == [plan.numbering for plan in asked]
    for matrix in layout.matrices:
        assert all(cell.name.endswith(f" {cell.number}") for cell in matrix.fitted)


@given(st.integers(1, 64), st.integers(1, 64), st.sampled_from(SCHEMES))
def test_one_number_of_the_test_tells_the_numbering_or_another_is_asked_for(
    columns: int, rows: int, scheme: str
) -> None:
    column, row = example_place(columns, rows)
    answer = str(number_of(scheme, row, column, rows, columns))  # type: ignore[arg-type]
    try:
        found = scheme_of(answer, columns, rows)
    except UsageError as asked:
        assert scheme in asked.message  # noqa: PT017 - either is right, and here it must name the scheme
        return
    places = [(r, c) for r in range(1, rows + 1) for c in range(1, columns + 1)]
    assert all(number_of(found, r, c, rows, columns) == number_of(scheme, r, c, rows, columns) for r, c in places)  # type: ignore[arg-type]


@pytest.mark.parametrize("lines", [True, False])
def test_every_comment_of_a_new_layout_may_be_taken_at_its_word(tmp_path: Path, lines: bool) -> None:
    text = blank_layout(
        "Invented",
        [plan_of(text) for text in ("switch 8x8 21", "lamp 5x3 4", "inputs 6", "lighting 3x5", "coil 4x8 9")],
    )
    if lines:
        text = "\n".join(
            line.replace("# ", "", 1)
            if line.lstrip().startswith(("# [", "# wire", "# path", "# supply", "# volts", "# 1"))
            else line
            for line in text.splitlines()
        )
        assert "\n  [matrix.column]" in text
    path = tmp_path / "new.toml"
    path.write_text(text)
    assert check_layout(path) == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("swich 8x8", "did you mean 'switch'?"),
        ("switch", "has no size"),
        ("switch 8 by 8", "can't read"),
        ("switch 65x8", "1 to 64"),
        ("lamp 8x8 99", "fits no numbering"),
        ("lamp 5x11 12", "fits row-then-column and down-columns"),
        ("lamp 2x8 K1", "changes two columns of coils"),
        ("", "no kind of matrix"),
    ],
)
def test_what_cannot_be_a_matrix_is_refused_with_the_way_to_write_it(text: str, words: str) -> None:
    with pytest.raises(UsageError) as refused:
        plan_of(text)
    assert words in str(refused.value)


def test_all_kinds_go_into_one_file_with_the_schema_beside_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "mine.toml"
    words = [
        "layout",
        "new",
        "--out",
        str(out),
        "--name",
        "Invented",
        "--matrix",
        "switch 8x8 21",
        "--matrix",
        "coil 2x4 5 K1",
    ]
    assert main(words) == 0
    layout = read_layout(out)
    assert layout.matrix_ids == ("switches", "coils")
    assert [(line.label, line.select, line.when) for line in layout.matrices[1].columns] == [
        ("A", "K1", "rest"),
        ("B", "K1", "pulled"),
    ]
    assert (
        out.with_name("layout.schema.json").read_text()
        == shipped()["switch-8x8"].with_name("layout.schema.json").read_text()
    )
    capsys.readouterr()
    assert main(words) == 2
    assert "is there already" in capsys.readouterr().err


def on_a_terminal(words: list[str], typed: str) -> tuple[int, str]:
    """Run the command on a terminal where these lines are typed; its exit code and all that the terminal showed."""
    leader, follower = pty.openpty()
    os.write(leader, typed.encode())
    with subprocess.Popen(
        [sys.executable, "-c", START, *words], stdin=follower, stdout=follower, stderr=follower
    ) as running:
        os.close(follower)
        shown = b""
        while True:
            try:
                part = os.read(leader, 65536)
            except OSError:
                break
            if not part:
                break
            shown += part
        code = running.wait()
    os.close(leader)
    return code, shown.decode().replace("\r\n", "\n")


def test_on_a_terminal_each_matrix_is_asked_for(tmp_path: Path) -> None:
    out = tmp_path / "asked.toml"
    code, shown = on_a_terminal(
        ["layout", "new", "--out", str(out)],
        "Invented kiosk\nswitch 4x4\n21\ncoil 2x3\n99\ncoil 2x3\n4\nK1\ninputs 2\n\n",
    )
    assert code == 0, shown
    assert "What does the test call column 2, row 1?" in shown
    assert "fits no numbering" in shown
    layout = read_layout(out)
    assert layout.name == "Invented kiosk"
    assert [(one.id, one.numbering) for one in layout.matrices] == [
        ("switches", "column-then-row"), ("coils", "down-columns"), ("inputs", "down-columns"),
    ]  # fmt: skip
    assert layout.matrices[1].columns[0].select == "K1"


def test_on_a_terminal_an_import_asks_what_a_chart_leaves_open(tmp_path: Path) -> None:
    out = tmp_path / "asked.toml"
    chart = str(CHARTS / "refused" / "unsure-wires.csv")
    code, shown = on_a_terminal(["layout", "import", chart, "--out", str(out)], "Invented boat\nGRN\nGN\nBU\ny\n")
    assert code == 0, shown
    assert "GR is green or grey: GN or GY?" in shown
    assert [line.wire for line in read_layout(out).matrices[0].columns] == ["GN/BN", "GN/RD", "BU/RD"]
    assert read_layout(out).name == "Invented boat"


def test_on_a_terminal_nothing_is_written_before_a_yes(tmp_path: Path) -> None:
    out = tmp_path / "asked.toml"
    chart = str(CHARTS / "lamps-numbers-alone.csv")
    code, shown = on_a_terminal(["layout", "import", chart, "--out", str(out), "--name", "Invented"], "n\n")
    assert (code, out.exists()) == (0, False)
    assert "Nothing was written." in shown


def test_shipped_layouts_are_listed_and_shown(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["layout", "list"]) == 0
    assert [line.partition(":")[0] for line in capsys.readouterr().out.splitlines()] == sorted(shipped())
    assert main(["layout", "list", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["layouts"]
    assert [one["name"] for one in listed] == sorted(shipped())
    assert {"id": "coils", "kind": "coil", "rows": 16, "columns": 2} in listed[2]["matrices"]
    assert main(["layout", "show", "saltmarsh-tram"]) == 0
    shown = capsys.readouterr().out
    assert str(shipped()["saltmarsh-tram"]) in shown
    assert "24 right" in shown
    assert main(["layout", "show", "switch-8x8", "--toml"]) == 0
    assert capsys.readouterr().out == shipped()["switch-8x8"].read_text(encoding="utf-8")
