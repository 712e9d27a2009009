"""Reading layout texts: nothing but a layout or InputError, and finding the layouts that come with the program."""

from __future__ import annotations

import os
import re
import threading
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.files import check_layout, find_layout, parse_layout, read_layout, shipped
from matrixcheck.layout.frozen import from_json, to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.schema import layout_schema

TRAM = shipped()["saltmarsh-tram"].read_text(encoding="utf-8")
COIL = shipped()["coil-8x2"].read_text(encoding="utf-8").replace("# ", "")
WORDS = sorted({"inf", "1979-05-27", '"listed"', "numbers", '"""', *re.findall(r'"[^"\n]*"|[\w.-]+|[^\w\s]|\n', COIL)})


def is_refused_or_read(text: str) -> None:
    refused = None
    try:
        layout = parse_layout(text, "any")
    except InputError as error:
        refused = str(error)
    assert "\n" not in refused if refused else isinstance(layout, Layout)


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    is_refused_or_read(text)


@given(st.lists(st.sampled_from(WORDS), max_size=40).map(" ".join))
@settings(max_examples=400)
def test_any_words_of_the_format_are_read_or_refused(text: str) -> None:
    is_refused_or_read(text)


@given(st.data())
@settings(max_examples=60)
def test_any_damage_to_a_sound_file_is_read_or_refused(data: st.DataObject) -> None:
    lines = TRAM.splitlines()
    place = data.draw(st.integers(0, len(lines) - 1))
    broken = data.draw(st.sampled_from(["", lines[place][:-1], lines[place] + ",", *WORDS, *lines[::17]]))
    is_refused_or_read("\n".join([*lines[:place], broken, *lines[place + 1 :]]))


@given(st.binary(max_size=200))
def test_any_bytes_are_refused(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.mktemp("bytes") / "any.toml"
    path.write_bytes(data)
    with pytest.raises(InputError) as refused:
        read_layout(path)
    assert str(check_layout(path)[0]) in str(refused.value)


names = st.sampled_from(["", "stop", "lane", "gate", "nest"])
kinds = st.sampled_from(["switch", "lamp", "coil"])
values = {
    "numbering": st.sampled_from(["down-columns", "along-rows", "column-then-row", "row-then-column"]),
    "strobe": st.sampled_from(["row", "column"]),
    "diodes": st.booleans(),
    "volts": st.floats(0.1, 100),
    "rows_shared": st.booleans(),
}


@st.composite
def sound_texts(draw: st.DrawFn) -> str:
    """Layout files that are all right: any size, gaps, lines with paths, chains shuffled or unknown."""
    rows, columns = draw(st.integers(1, 5)), draw(st.integers(1, 5))
    grid = [[draw(names) for _ in range(columns)] for _ in range(rows)]
    grid[0][0] = "first"
    keys = draw(st.fixed_dictionaries({"kind": kinds}, optional=values))
    text = 'format = 1\nname = "Any"\n[[matrix]]\nid = "m"\n'
    text += "".join(f"{key} = {str(value).lower() if isinstance(value, bool) else repr(value)}\n"
                    for key, value in keys.items())  # fmt: skip
    text += f"cells = {grid}\n"
    matrix = parse_layout(text, "any").matrices[0]
    for place in range(1, draw(st.integers(0, columns)) + 1):
        own = [cell.number for cell in matrix.fitted if cell.key.column == place]
        text += f'[[matrix.column]]\nname = "c{place}"\npath = ["U1-{place}", "Q{place}", "X1-{place}"]\n'
        text += f"chain = {draw(st.permutations(own))}\n" if draw(st.booleans()) else ""
    return text + "".join(f"[matrix.cell.{cell.number}]\nzone = 'here'\n" for cell in matrix.fitted[::3])


@given(sound_texts())
@settings(max_examples=100)
def test_a_sound_layout_comes_back_from_json_as_it_was(text: str) -> None:
    layout = parse_layout(text, "any")
    assert from_json(Layout, to_json(layout)) == layout


def test_the_invented_machine_comes_back_from_json_as_it_was() -> None:
    layout = parse_layout(TRAM, "tram")
    assert from_json(Layout, to_json(layout)) == layout


def test_every_shipped_layout_is_sound() -> None:
    assert sorted(shipped()) == ["coil-8x2", "lamp-8x8", "saltmarsh-tram", "switch-8x8"]
    for path in shipped().values():
        assert check_layout(path) == ()


def test_the_shipped_schema_is_that_of_the_models() -> None:
    path = shipped()["saltmarsh-tram"].with_name("layout.schema.json")
    remedy = f"run python -m matrixcheck.layout.schema > {path}"
    assert path.read_text(encoding="utf-8") == layout_schema(), remedy


def test_a_layout_is_found_by_its_name_or_its_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "own").write_text("")
    (tmp_path / "saltmarsh-tram").mkdir()
    assert find_layout("saltmarsh-tram") == shipped()["saltmarsh-tram"]
    assert find_layout("own") == Path("own")
    assert find_layout(str(tmp_path)) == tmp_path


@pytest.mark.parametrize(
    ("name", "kind", "message"),
    [
        ("saltmarsh-trem", UsageError, "no layout 'saltmarsh-trem': did you mean 'saltmarsh-tram'?"),
        ("x", UsageError, "no layout 'x': name a file, or one of coil-8x2, lamp-8x8, saltmarsh-tram, switch-8x8"),
        ("x.toml", InputError, "no file 'x.toml': name a layout file"),
        ("no/where", InputError, "no file 'no/where': name a layout file"),
        ("x" * 5000, UsageError, None),
        ("a\0b.toml", InputError, "no file 'a\\x00b.toml': name a layout file"),
        ("", UsageError, None),
    ],
)
def test_a_layout_that_is_not_there_is_refused(name: str, kind: type[Exception], message: str | None) -> None:
    with pytest.raises(kind) as refused:
        find_layout(name)
    assert message in (None, str(refused.value))


@pytest.mark.parametrize(
    "name", ["own.toml", "./own.toml", "HERE/own.toml", "HERE/none.toml", "/etc/passwd", "~", "", "a\0b"]
)
def test_where_only_shipped_layouts_count_no_path_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "own.toml").write_text("")
    asked = name.replace("HERE", str(tmp_path))
    with pytest.raises(UsageError) as refused:
        find_layout(asked, own=False)
    shipped_ones = "coil-8x2, lamp-8x8, saltmarsh-tram, switch-8x8"
    assert str(refused.value) == f"no layout {asked!r}: name one of {shipped_ones}"
    assert find_layout("coil-8x2", own=False) == shipped()["coil-8x2"]


def test_a_pipe_or_a_device_is_refused_unopened(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = threading.Thread(target=lambda: pipe.open("wb").close(), daemon=True)
    writer.start()
    for path in (pipe, Path("/dev/zero")):
        for read in (read_layout, check_layout):
            with pytest.raises(InputError, match="is not a regular file: save the layout in a file and name that"):
                read(path)
    assert writer.is_alive()
    other_end = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    writer.join(20)
    os.close(other_end)
