"""Which layouts a new job can choose: shipped ones and those of a folder, and nothing that could stop the program."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.errors import UsageError
from matrixcheck.layout.files import choosable, find_layout, read_found
from matrixcheck.layout.folder import MOST_FILES, checked_folder
from matrixcheck.layout.limits import LARGEST_LAYOUT
from matrixcheck.layout.shipped import shipped

OWN = 'format = 1\nname = "Own"\n[[matrix]]\nid = "s"\nkind = "switch"\ncells = [["a", "b"]]\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one layout, and whatever else may lie beside one."""
    (tmp_path / "own.toml").write_text(OWN)
    (tmp_path / "secret.txt").write_text("x")
    (tmp_path / ".hidden.toml").write_text(OWN)
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "two\nlines.toml").write_text(OWN)
    (tmp_path / "link.toml").symlink_to(tmp_path / "own.toml")
    (tmp_path / "zero.toml").symlink_to("/dev/zero")
    (tmp_path / "nowhere.toml").symlink_to(tmp_path / "none")
    os.mkfifo(tmp_path / "pipe.toml")
    with (tmp_path / "large.toml").open("wb") as large:
        large.truncate(LARGEST_LAYOUT + 1)
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(tmp_path / "socket.toml"))
    return tmp_path


def test_of_a_folder_only_regular_files_of_a_layouts_size_can_be_chosen(folder: Path) -> None:
    assert choosable(folder) == shipped() | {"own.toml": folder / "own.toml"}
    assert choosable() == shipped()


def test_a_layout_of_the_folder_is_read_by_its_name_and_no_other_path_is_looked_at(folder: Path) -> None:
    layout, source = read_found("own.toml", own=False, folder=folder)
    assert (layout.name, source.file) == ("Own", str(folder / "own.toml"))
    for name in ("pipe.toml", "link.toml", "../own.toml", str(folder / "own.toml"), "own", "large.toml"):
        with pytest.raises(UsageError):
            find_layout(name, own=False, folder=folder)


def test_a_file_goes_by_another_name_than_a_shipped_layout(tmp_path: Path) -> None:
    (tmp_path / "coil-8x2.toml").write_text(OWN)
    found = choosable(tmp_path)
    assert found["coil-8x2"] == shipped()["coil-8x2"]
    assert found["coil-8x2.toml"] == tmp_path / "coil-8x2.toml"


def test_what_appears_in_the_folder_can_be_chosen_and_what_goes_cannot(tmp_path: Path) -> None:
    assert choosable(tmp_path) == shipped()
    (tmp_path / "new.toml").write_text(OWN)
    assert "new.toml" in choosable(tmp_path)
    (tmp_path / "new.toml").unlink()
    tmp_path.rmdir()
    assert choosable(tmp_path) == shipped()


def test_a_folder_with_many_files_gives_the_first_ones_by_name(tmp_path: Path) -> None:
    names = [f"{number:04d}.toml" for number in range(MOST_FILES + 20)]
    for name in names:
        (tmp_path / name).touch()
    assert sorted(set(choosable(tmp_path)) - set(shipped())) == names[:MOST_FILES]


@given(st.text(alphabet="./abco\0\n-~", max_size=20))
def test_no_name_leads_out_of_the_list(name: str) -> None:
    try:
        found = find_layout(name, own=False)
    except UsageError:
        return
    assert found in shipped().values()


def test_a_folder_that_is_none_is_refused_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for wrong in (tmp_path / "file", tmp_path / "none", Path("a\0b")):
        with pytest.raises(UsageError, match="can't be read"):
            checked_folder(wrong)
    assert checked_folder(tmp_path) == tmp_path
