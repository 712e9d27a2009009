"""The configuration: what comes first holds, a file is taken strictly or not at all, and what a person wrote in it
stays."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from matrixcheck import whole_files
from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.config.place import config_path, keep_theme, load
from matrixcheck.config.settings import SETTINGS
from matrixcheck.config.toml import set_value, settings_of
from matrixcheck.errors import InputError, MatrixCheckError, UsageError
from matrixcheck.layout.files import find_layout
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.tui.look import Look
from matrixcheck.web import child
from tests.machines import shipped_layout

COMMENTED = """# ours, do not lose

theme = "light"   # the bench is bright
# bell = true
initials = "AB"
"""


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the configuration lies; it isn't there yet. No variable sets anything else."""
    path = tmp_path / "set" / "config.toml"
    monkeypatch.setenv("MATRIXCHECK_CONFIG", str(path))
    monkeypatch.delenv("MATRIXCHECK_BOOK")
    return path


def written(path: Path, text: str) -> Path:
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(list(words))
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def test_the_file_lies_in_the_users_configuration_folder_unless_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", "/somewhere")
    assert "matrixcheck" in config_path({}).parts
    assert config_path({}).is_absolute()
    assert config_path({"MATRIXCHECK_CONFIG": "other.toml"}) == Path.cwd() / "other.toml"


def test_without_a_file_everything_has_its_default(file: Path) -> None:
    holds = load(os.environ)
    assert (holds.theme, holds.initials, holds.bell, holds.rates) == ("dark", "", False, None)
    assert holds.mains_region is EarthLimit.PLUS_LEAD
    assert holds.book.is_absolute()
    assert "matrixcheck" in holds.book.parts
    assert {origin.source for origin in holds.origins.values()} == {"default"}
    assert set(holds.origins) == {setting.key for setting in SETTINGS}
    assert not file.parent.exists()


def test_an_option_comes_before_the_environment_that_before_the_file_that_before_the_default(file: Path) -> None:
    assert load({}, {}).origins["book"].source == "default"
    here = {"MATRIXCHECK_CONFIG": str(written(file, 'book = "in-file.book"\n'))}
    holds = load(here)
    assert (holds.book, holds.origins["book"]) == (file.parent / "in-file.book", ("file", f"{file}:1"))
    both = here | {"MATRIXCHECK_BOOK": "in-environment.book"}
    holds = load(both)
    assert (holds.book, holds.origins["book"].source) == (Path.cwd() / "in-environment.book", "environment")
    holds = load(both, {"book": Path("in-option.book")})
    assert (holds.book, holds.origins["book"].source) == (Path("in-option.book"), "option")
    assert load(here | {"MATRIXCHECK_BOOK": ""}).origins["book"].source == "file"


def test_every_value_of_a_file_is_taken(file: Path) -> None:
    text = (
        'theme = "light"\nbook = "~/b.book"\ninitials = " ÄBc "\n'
        'mains_region = "1-ohm"\nbell = true\nrates = "r.toml"\nlearned = true\nbrowser = "/b"\n[keys]\nundo = "U"\n'
    )
    holds = load({"MATRIXCHECK_CONFIG": str(written(file, text))})
    assert (holds.theme, holds.initials, holds.bell) == ("light", "ÄBc", True)
    assert holds.book == Path.home() / "b.book"
    assert holds.mains_region is EarthLimit.FLAT
    assert holds.rates == file.parent / "r.toml"
    assert holds.learned
    assert holds.browser == Path("/b")
    assert holds.keys == {"undo": "U"}
    assert [origin.name for origin in holds.origins.values()] == [f"{file}:{line}" for line in range(1, 10)]


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("\nthem = 1", 2, "them: no such setting; did you mean 'theme'?"),
        (
            "theme = 'drak'",
            1,
            "theme: 'drak' is not one of dark, light, high-contrast, high-contrast-light; did you mean 'dark'?",
        ),
        ("theme = 3", 1, "theme: 3 is not text"),
        ("#\n\ninitials = 'ABCDE'", 3, "initials: 'ABCDE' is too long, or has more than letters"),
        ("initials = 'A1'", 1, "initials: 'A1' is too long, or has more than letters"),
        ("bell = 'on'", 1, "bell: 'on' is neither true nor false"),
        ("bell = 1", 1, "bell: 1 is neither true nor false"),
        ("book = ' '", 1, "book: ' ' names no file"),
        ("book = 'a\\u0007b'".replace("'", '"'), 1, "names no file"),
        ("rates = '~nobody-of-that-name/x'", 1, "starts with the home folder of an unknown user"),
        ("mains_region = '2-ohm'", 1, "mains_region: '2-ohm' is not one of 0.1-ohm-plus-lead, 0.3-ohm-by-length"),
        ("[keys]\nundo = 'U'\nrond = 'x'", 3, "keys.rond: no such action; did you mean 'round'?"),
        ("[keys]\nundo = 'g'", 2, "keys.undo: g is the key of round as well (job)"),
        ("keys = 'u'", 1, "keys: 'u' is not a table"),
        ("[keys]\n\nundo = 4", 3, "keys.undo: 4 is not text"),
        ("[book]\nx = 1", 1, "book: a table is not text"),
        ("theme = 'dark'\ntheme = 'light'", 2, "not TOML"),
        ("theme = ", 1, "not TOML"),
    ],
)
def test_an_impossible_file_is_refused_in_one_line_with_its_place(
    file: Path, capsys: pytest.CaptureFixture[str], text: str, line: int, says: str
) -> None:
    written(file, text)
    for words in (("config", "show"), ("job", "list")):
        code, out, err = run(capsys, *words)
        assert (code, out, err.count("\n")) == (3, "", 1)
        assert err.startswith(f"{file}:{line}: ")
        assert says in err
        assert "fix that line" in err


def test_all_that_is_wrong_is_counted(file: Path) -> None:
    written(file, "them = 1\nbell = 2\ninitials = 3\n")
    with pytest.raises(InputError, match=r":1: them: .*; and 2 more: fix"):
        settings_of(file)


@pytest.mark.parametrize("data", [b"\xff\xfe", b"x" * 300_000, b"[" * 5_000])
def test_what_is_no_text_of_that_size_is_refused(file: Path, data: bytes) -> None:
    file.parent.mkdir()
    file.write_bytes(data)
    with pytest.raises(InputError):
        settings_of(file)


PIECES = st.sampled_from(
    ["=", "\n", "[keys]\n", "{", "}", "[", "]", ".", ",", '"', "# why\n", '"""', "\\", "\x00", "é", "keys.undo"]
)
VALUES = st.sampled_from(['"U"', '"dark"', "'AB'", "'a/b.toml'", "'1-ohm'", "true", "0", "1e999", "{undo = 'U'}", "[]"])
LINES = st.builds("{} = {}\n".format, st.sampled_from([*(setting.key for setting in SETTINGS), "undo"]), VALUES)
RIGHT = [
    'theme = "dark"\n',
    "bell = true\n",
    "initials = 'AB'\n",
    "rates = 'a/b.toml'\n",
    "browser = 'a/b'\n",
    "keys.undo = 'U'\n",
    "# why\n",
]
RIGHT_FILES = st.lists(st.sampled_from(RIGHT), unique=True)
ANY_FILES = st.lists(st.one_of(LINES, st.sampled_from(RIGHT), PIECES), max_size=4)


@given(st.one_of(RIGHT_FILES, ANY_FILES).map("".join))
def test_whatever_stands_in_a_file_it_is_taken_or_refused_in_one_line(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    path = written(tmp_path_factory.mktemp("any") / "config.toml", text)
    taken = _taken(path)
    event("refused" if taken is None else "taken")
    with suppress(MatrixCheckError):
        set_value(path, "bell", "on")
        assert _taken(path) == {**(taken or {}), **settings_of(path).values, "bell": True}
        return
    assert taken is None
    assert path.read_text("utf-8") == text


def _taken(path: Path) -> dict[str, Any] | None:
    """What the file sets; None where it is refused, which takes one line that names it."""
    try:
        found = settings_of(path)
    except InputError as error:
        said = str(error)
    else:
        assert set(found.values) == set(found.lines)
        return dict(found.values)
    assert said.startswith(f"{path}:")
    assert "\n" not in said
    return None


def test_a_pipe_in_the_place_of_the_file_holds_nothing_up(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.parent.mkdir()
    os.mkfifo(file)
    assert run(capsys, "config", "show")[0] == 3
    assert run(capsys, "config", "set", "theme", "light")[0] == 3


def test_a_broken_file_stops_only_what_needs_it(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written(file, "bell = 3")
    assert run(capsys, "config", "path") == (0, f"{file}\n", "")
    assert run(capsys, "layout", "check", str(find_layout("saltmarsh-tram")))[0] == 0
    assert run(capsys, "config", "set", "theme", "light")[0] == 3
    assert file.read_text() == "bell = 3"
    assert run(capsys, "config", "set", "bell", "on")[0] == 0
    assert tomllib.loads(file.read_text()) == {"bell": True}


@pytest.mark.parametrize(
    ("variable", "value"),
    [("THEME", "drak"), ("BELL", "2"), ("INITIALS", "ABCDE"), ("MAINS_REGION", "x"), ("RATES", " "), ("BOOK", "\x07")],
)
def test_an_impossible_variable_is_refused_in_one_line(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, variable: str, value: str
) -> None:
    del file
    monkeypatch.setenv(f"MATRIXCHECK_{variable}", value)
    code, out, err = run(capsys, "config", "show")
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert err.startswith(f"MATRIXCHECK_{variable}: ")
    assert "or leave it unset" in err


def test_a_value_is_set_and_every_comment_stays(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written(file, COMMENTED)
    file.chmod(0o640)
    assert run(capsys, "config", "set", "theme", "dark") == (0, f"theme set in {file}\n", "")
    assert file.read_text() == COMMENTED.replace('"light"', '"dark"')
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert list(file.parent.iterdir()) == [file]


@given(st.permutations([("theme", "light"), ("bell", "off"), ("initials", "XY"), ("mains_region", "1-ohm")]))
def test_values_may_be_set_in_any_order_below_any_comment(
    tmp_path_factory: pytest.TempPathFactory, pairs: list[tuple[str, str]]
) -> None:
    path = tmp_path_factory.mktemp("set") / "config.toml"
    written(path, "# nothing yet\n")
    for key, value in pairs:
        set_value(path, key, value)
    holds = load({"MATRIXCHECK_CONFIG": str(path)})
    assert (holds.theme, holds.bell, holds.initials, holds.mains_region) == ("light", False, "XY", EarthLimit.FLAT)
    assert path.read_text().startswith("# nothing yet\n")


def test_a_file_named_on_the_command_line_means_the_same_file_from_anywhere(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    set_value(file, "book", "here.book")
    set_value(file, "rates", "~/rates.toml")
    monkeypatch.chdir("/")
    assert load(os.environ).book == tmp_path / "here.book"
    assert tomllib.loads(file.read_text())["rates"] == "~/rates.toml"


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("them", "dark", "no setting 'them': did you mean 'theme'?"),
        (
            "theme",
            "drak",
            "theme: 'drak' is not one of dark, light, high-contrast, high-contrast-light: did you mean 'dark'?",
        ),
        ("initials", "ABCDE", "give at most 4 letters"),
        ("bell", "loud", "bell: 'loud' is neither on nor off: give on or off"),
        ("book", "", "book: '' names no file"),
        ("keys", "u", "keys has entries: name one"),
        ("keys.rond", "z", "keys.rond: no such action: did you mean 'round'?"),
        ("keys.undo", "g", "keys.undo: g is the key of round as well (job): give a letter"),
        ("theme.x", "dark", "theme has no entries"),
    ],
)
def test_what_cannot_be_set_leaves_no_file(
    file: Path, capsys: pytest.CaptureFixture[str], key: str, value: str, says: str
) -> None:
    code, out, err = run(capsys, "config", "set", key, value)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err
    assert not file.parent.exists()


def test_a_full_disk_leaves_the_file_as_it_was(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written(file, COMMENTED)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(whole_files.os, "fsync", full)
    with pytest.raises(UsageError, match="No space left"):
        set_value(file, "theme", "dark")
    assert (file.read_text(), list(file.parent.iterdir())) == (COMMENTED, [file])


def test_a_link_to_a_file_kept_elsewhere_stays_a_link(file: Path, tmp_path: Path) -> None:
    kept = written(tmp_path / "kept.toml", COMMENTED)
    file.parent.mkdir()
    file.symlink_to(kept)
    keep_theme(os.environ, "dark")
    assert file.is_symlink()
    assert '"dark"' in kept.read_text()


def test_keys_are_set_one_by_one_and_hold_together(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written(file, COMMENTED)
    assert run(capsys, "config", "set", "keys.undo", "U")[0] == 0
    assert run(capsys, "config", "set", "keys.pause", "f11")[0] == 0
    assert run(capsys, "config", "set", "keys.round", "U")[:2] == (2, "")
    assert file.read_text().startswith(COMMENTED)
    assert tomllib.loads(file.read_text())["keys"] == {"undo": "U", "pause": "f11"}
    assert load(os.environ).look.keys == {"undo": "U", "pause": "F11"}
    shown = run(capsys, "config", "show")[1].splitlines()
    assert [line.split()[:2] for line in shown[-2:]] == [["keys.undo", "U"], ["keys.pause", "F11"]]
    data = json.loads(run(capsys, "config", "show", "--json")[1])
    assert data["settings"]["keys"]["value"] == {"undo": "U", "pause": "F11"}
    listed = {line.split()[0]: line.split()[1] for line in run(capsys, "config", "keys")[1].splitlines()}
    assert (listed["undo"], listed["pause"], listed["round"]) == ("U", "F11", "g")


@pytest.mark.usefixtures("file")
def test_the_rates_that_are_set_hold_where_something_is_analysed_and_nowhere_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "config", "set", "book", str(tmp_path / "rated.book"))
    job = run(capsys, "job", "new", "saltmarsh-tram", "--name", "Rated")[1].strip()
    assert run(capsys, "mark", job, "switches", "c3-")[0] == 0
    shipped = run(capsys, "suspects", job, "--json")[1]
    own = written(tmp_path / "own.toml", '[part]\n"connector" = 0.4\n')
    assert run(capsys, "config", "set", "rates", str(own))[0] == 0
    rated = run(capsys, "suspects", job, "--json")[1]
    assert _suspects(rated) != _suspects(shipped)
    assert _suspects(rated) == _suspects(run(capsys, "suspects", job, "--json", "--rates", str(own))[1])
    assert run(capsys, "report", job, "--to", "-.json")[0] == 0
    other = written(tmp_path / "other.toml", "")
    assert _suspects(run(capsys, "suspects", job, "--json", "--rates", str(other))[1]) == _suspects(shipped)
    own.write_text("[prt]")
    for words in (("suspects", job), ("report", job), ("open", job), ("serve",)):
        code, out, err = run(capsys, *words)
        assert (code, out, err.count("\n")) == (3, "", 1)
        assert err.startswith(f"{own}:1: ")
    assert run(capsys, "mark", job, "switches", "24")[0] == 0
    assert run(capsys, "status", job)[0] == 0


def test_the_first_paint_waits_for_no_rates_that_have_to_be_learned(file: Path, tmp_path: Path) -> None:
    book = tmp_path / "learning.book"
    written(file, f'book = "{book}"\nlearned = true\n')
    bench = Bench(book)
    job = bench.new_job(shipped_layout("switch-8x8"), "One")
    bench.mark(job, "switches", "c3-")
    bench.close()
    code = (
        "import os, sys; from matrixcheck.bench import Bench; from matrixcheck.config.place import load; "
        "from matrixcheck.config.rates import rates_for_screens; holds = load(os.environ); "
        f"bench = Bench(holds.book, rates=rates_for_screens(holds)); bench.state({job!r}); "
        f"print('numpy' in sys.modules, bench.diagnosis({job!r}).rates)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("False learned from 0 closed jobs of this book")


def test_the_screens_of_a_terminal_start_with_what_is_set_and_keep_a_theme(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[dict[str, Any]] = []
    monkeypatch.setattr("matrixcheck.tui.run.run", lambda book, _, **how: started.append({"book": book, **how}) or 0)
    written(file, f'book = "{tmp_path / "set.book"}"\ninitials = "QT"\nbell = true\n[keys]\nundo = "U"\n')
    assert run(capsys, "open")[0] == 0
    (how,) = started
    assert (how["book"], how["initials"], how["rates"]) == (tmp_path / "set.book", "QT", None)
    assert how["look"] == Look("dark", True, {"undo": "U"})
    how["keep_theme"]("light")
    assert load(os.environ).theme == "light"


@pytest.mark.parametrize(("files", "here"), [("any", True), ("listed", False)])
def test_a_page_starts_with_what_is_set_and_keeps_a_theme_only_on_this_computer(
    file: Path, monkeypatch: pytest.MonkeyPatch, files: str, here: bool
) -> None:
    started: list[dict[str, Any]] = []
    monkeypatch.setattr(child, "run", lambda *where, **how: started.append({"where": where, **how}) or 0)
    monkeypatch.setattr(sys, "argv", ["child", files, "a folder", "its.book", "", "", "0123456789abcdef"])
    written(file, 'book = "not-this.book"\ntheme = "light"\ninitials = "QT"\n')
    with pytest.raises(SystemExit) as ended:
        child.main()
    (how,) = started
    assert (ended.value.code, how["where"]) == (0, (Path("its.book"), None, None))
    assert (how["initials"], how["look"].theme, how["own_layouts"]) == ("QT", "light", here)
    assert how["layouts"] == Path("a folder")
    assert (how["keep_theme"] is not None) is here


def _suspects(answer: str) -> object:
    return json.loads(answer)["suspects"]


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    written(tmp_path / "no-folder", "")
    with pytest.raises(MatrixCheckError, match="no-folder"):
        set_value(tmp_path / "no-folder" / "in" / "config.toml", "theme", "dark")


def test_show_gives_every_value_and_where_it_comes_from(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    written(file, COMMENTED)
    monkeypatch.setenv("MATRIXCHECK_MAINS_REGION", EarthLimit.BY_LENGTH)
    code, out, _ = run(capsys, "config", "show", "--book", "my.book")
    lines = {line.split()[0]: line.split()[1:] for line in out.splitlines()}
    assert code == 0
    assert lines["theme"] == ["light", "file", f"{file}:3"]
    assert lines["book"] == ["my.book", "option", "--book"]
    assert lines["initials"] == ["AB", "file", f"{file}:5"]
    assert lines["mains_region"] == ["0.3-ohm-by-length", "environment", "MATRIXCHECK_MAINS_REGION"]
    assert lines["bell"] == ["off", "default"]
    assert lines["rates"] == lines["keys"] == ["-", "default"]
    data = json.loads(run(capsys, "config", "show", "--json")[1])["settings"]
    assert list(data) == [setting.key for setting in SETTINGS] == list(lines)
    assert data["initials"] == {"value": "AB", "from": "file", "where": f"{file}:5"}
    assert data["rates"] == {"value": None, "from": "default", "where": ""}


def test_a_variable_that_comes_before_what_was_set_is_named(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MATRIXCHECK_THEME", "dark")
    said = f"theme set in {file}\nMATRIXCHECK_THEME is set as well, and comes first\n"
    assert run(capsys, "config", "set", "theme", "light") == (0, said, "")


def test_help_names_every_setting_with_what_it_takes(capsys: pytest.CaptureFixture[str]) -> None:
    out = run(capsys, "config", "--help")[1]
    starts = {line.split()[0] for line in out.splitlines() if line.strip()}
    assert {setting.key for setting in SETTINGS} - {"keys"} | {"keys.ACTION"} <= starts
    assert all(limit in out for limit in EarthLimit)


def test_the_book_and_the_initials_that_are_set_are_those_of_every_command(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written(file, f'book = "{tmp_path / "set.book"}"\ninitials = "QT"\n')
    code, out, _ = run(capsys, "job", "new", "saltmarsh-tram", "--name", "Set")
    assert (code, run(capsys, "mark", out.strip(), "switches", "24")[0]) == (0, 0)
    bench = Bench(tmp_path / "set.book")
    assert [one.initials for one in bench.state(out.strip()).history] == ["QT", "QT"]
