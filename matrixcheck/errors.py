"""The errors that reach a person: each says what is wrong, where, and what to do about it."""

from __future__ import annotations

from pathlib import Path
from traceback import walk_tb


class MatrixCheckError(Exception):
    """Base of every error that a face may show.

    `message` names what is wrong and where; `hint` says what to do. Both are one line. `str()` gives them together.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        self.message = " ".join(message.split())
        self.hint = " ".join(hint.split())
        super().__init__(self.message)

    def __str__(self) -> str:
        return f"{self.message}: {self.hint}" if self.hint else self.message


class UsageError(MatrixCheckError):
    """The command or entry was put wrongly, or names something that does not exist (exit code 2)."""


class InputError(MatrixCheckError):
    """A file or an entry can't be taken as it stands (exit code 3)."""


class BookError(MatrixCheckError):
    """The bench book is damaged, locked, or can't be written (exit code 4)."""


class PrintError(MatrixCheckError):
    """Something was kept, and standard output can't say so (exit code 1)."""


class AnalysisError(MatrixCheckError):
    """The analyser met a mistake of its own: no answer, and nothing recorded is touched (exit code 5)."""


def origin(error: BaseException) -> str:
    """Name what broke and where in this package, as in `KeyError in diagnosis/alike.py:96`."""
    package = Path(__file__).parent
    places = [
        f" in {Path(frame.f_code.co_filename).relative_to(package).as_posix()}:{line}"
        for frame, line in walk_tb(error.__traceback__)
        if package in Path(frame.f_code.co_filename).parents
    ]
    return f"{type(error).__name__}{places[-1] if places else ''}"
