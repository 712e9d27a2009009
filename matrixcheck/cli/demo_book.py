"""The book in which the demonstration's evening can be looked at, beside the person's own and never in it."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory

from matrixcheck.bench import Bench
from matrixcheck.cli.evening import recorded, the_evening
from matrixcheck.errors import MatrixCheckError, UsageError
from matrixcheck.whole_files import PRIVATE, drafted, replace

MOST_BOOKS = 99


def demo_book(own: Path) -> Path:
    """Return the demonstration's book in the folder of one's own book; it is made where there is none yet.

    A file there that is no such book is left alone, and another name is taken. Raises UsageError where none can be
    made.
    """
    names = (f"demo{'' if count == 1 else f'-{count}'}.book" for count in range(1, MOST_BOOKS + 1))
    for path in (own.parent / name for name in names):
        if not path.exists() and not path.is_symlink():
            return _made(path)
        if path.resolve() != own.resolve() and _is_demo(path):
            return path
    raise UsageError(f"{own.parent} has {MOST_BOOKS} files called demo", "take some away")


def _made(path: Path) -> Path:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{str(path.parent)!r}: {error.strerror or error}", "name another book") from None
    with TemporaryDirectory(prefix="matrixcheck-") as folder:
        played = Path(folder) / path.name
        for _ in recorded(the_evening(), played):
            pass
        with ExitStack() as waste:
            draft = drafted(path, played.read_bytes(), waste)
            draft.chmod(PRIVATE)
            replace(draft, path)
    return path


def _is_demo(path: Path) -> bool:
    """Return whether a file is a book with the demonstration's job alone in it."""
    bench = Bench(path)
    try:
        return [job.serial for job in bench.jobs()] == [the_evening().serial]
    except MatrixCheckError:
        return False
    finally:
        bench.close()
