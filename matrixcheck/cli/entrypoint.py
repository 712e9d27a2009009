"""The rim of the command line: the only place that writes to stderr and decides on exit codes.

0 done · 1 problems were found, or what was kept couldn't be printed · 2 wrong use · 3 input refused · 4 book damaged
or locked · 5 the analysis or another part of the program failed · 130 interrupted.
An error is one line on stderr: what, where, what to do. Stdout carries results only.
"""

from __future__ import annotations

import codecs
import gc
import io
import os
import sys
from collections.abc import Sequence

import typer

from matrixcheck.errors import AnalysisError, BookError, InputError, MatrixCheckError, PrintError, origin

DONE, PROBLEMS, WRONG_USE, INPUT_REFUSED, BOOK_TROUBLE, FAILED, INTERRUPTED = 0, 1, 2, 3, 4, 5, 130

LONGEST_COMPLAINT = 600
LETTERS = "matrixcheck-letters"


COMPLETION = "_MATRIXCHECK_COMPLETE"
"""The environment variable by which a shell asks what a word may become."""


def run(args: Sequence[str]) -> int:
    """Carry out one command line; whatever goes wrong ends here in one line and a code."""
    if COMPLETION in os.environ:
        return _complete()
    _stand_in_for_closed_streams()
    _let_letters_stand_for_what_is_lacking()
    try:
        code = _invoke([*args])
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_stdout()
        return DONE
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:
        return _complain(*_ending(error))
    return code


def _ending(error: Exception) -> tuple[str, int]:
    """Return what is said of an error, and the exit code."""
    if isinstance(error, MatrixCheckError):
        return str(error), code_of(error)
    if isinstance(error, typer.TyperException):
        return _usage_text(error), WRONG_USE
    if isinstance(error, OSError):
        where = error.filename or "standard output"
        return f"{where}: {error.strerror or error}: make room or choose another place", WRONG_USE
    return f"the program failed ({origin(error)}): this is a bug, please report this line", FAILED


def code_of(error: MatrixCheckError) -> int:
    """Return the exit code of an error."""
    codes = ((BookError, BOOK_TROUBLE), (AnalysisError, FAILED), (InputError, INPUT_REFUSED), (PrintError, PROBLEMS))
    return next((code for kind, code in codes if isinstance(error, kind)), WRONG_USE)


def _invoke(args: list[str]) -> int:
    from matrixcheck.cli.app import program

    whole = program()
    gc.enable()  # `main` stopped it while the program was put together: a command may well make garbage
    try:
        with whole.make_context("matrixcheck", args) as context:
            whole.invoke(context)
    except typer.Exit as end:
        return end.exit_code
    return DONE


def _complete() -> int:
    """Answer a shell that asks what a word may become. What goes wrong is nothing to say while a person types."""
    from matrixcheck.cli.app import program

    try:
        program().main([], "matrixcheck", COMPLETION)
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else DONE
    except Exception:
        return DONE
    return DONE


def _usage_text(error: typer.TyperException) -> str:
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "matrixcheck"
    message = error.format_message().replace("Value error, ", "").rstrip(".")
    return f"{command}: {message[:1].lower()}{message[1:]}: see `{command} --help`"


def _complain(text: str, code: int) -> int:
    line = "".join(sign if sign.isprintable() else " " for sign in " ".join(text.split()))
    if len(line) > LONGEST_COMPLAINT:
        line = f"{line[: LONGEST_COMPLAINT // 2]} ... {line[-LONGEST_COMPLAINT // 2 :]}"
    try:
        print(line, file=sys.stderr, flush=True)
    except (OSError, UnicodeError):
        return code
    return code


def _stand_in_for_closed_streams() -> None:
    """Put stand-ins where standard streams were closed before the start.

    Such a stream is None in Python: reading it finds nothing, writing to it is lost.
    """
    for name in ("stdin", "stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, io.TextIOWrapper(io.BytesIO()))


def _let_letters_stand_for_what_is_lacking() -> None:
    """Let letters stand for our glyphs on a terminal without them, as wide as they."""
    codecs.register_error(LETTERS, _letters)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=LETTERS)


def _letters(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    from matrixcheck.report.glyphs import in_ascii

    return "".join(map(in_ascii, error.object[error.start : error.end])), error.end


def _drop_stdout() -> None:
    """Drop what is still buffered once the reader has gone. Python then says nothing about it on its way out."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
