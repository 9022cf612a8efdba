"""What the command line says: results on standard output, the rest on standard error."""

import contextlib
import io
import json
import logging
import os
import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence

from rich.console import Console, RenderableType
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.text import Text

from model.base.errors import Fault, FaultyFile, KedgewiseError


class OutputFailed(KedgewiseError):
    """Standard output cannot be written, as on a full disk; nothing more goes there."""


def let_every_sign_through() -> None:
    """Standard output in an encoding that lacks a sign shows a question mark in its place.

    The encoding itself stays what it is: whoever reads a pipe or file expects the system's.
    """
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def show(content: RenderableType | str) -> None:
    """A result, on standard output; text is printed as it stands, without markup."""
    with _standard_output():
        Console(highlight=False, soft_wrap=isinstance(content, str)).print(content, markup=False)


def show_picture(picture: Text) -> None:
    """A picture made of text in colours of its own, also where colours are not wished for."""
    with _standard_output():
        console = Console(highlight=False, no_color=False, force_terminal=True)
        console.print(picture, no_wrap=True, crop=False, overflow="ignore")


def show_json(content: object) -> None:
    """One object on standard output, in ASCII, so that no terminal's encoding can spoil it."""
    with _standard_output():
        sys.stdout.write(json.dumps(content, indent=2, allow_nan=False) + "\n")
        sys.stdout.flush()


@contextlib.contextmanager
def _standard_output() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:  # whoever read has enough
        raise
    except OSError as error:
        # What is still to be written would fail once more when the program ends.
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise OutputFailed(
            f"standard output cannot be written ({error.strerror or error})",
            hint="Make room, or write elsewhere. What was stored or fitted stands.",
        ) from error


def tell(text: str) -> None:
    """A message, on standard error."""
    _errors().print(text, markup=False)


def log_to_standard_error() -> None:
    """What the house's modules log, on standard error, a plain line each with its time."""
    logging.basicConfig(format="%(asctime)s %(message)s", datefmt="%H:%M:%S")
    logging.getLogger("model").setLevel(logging.INFO)


def tell_notes(notes: Sequence[str]) -> None:
    """What was taken for granted in reading a file."""
    for note in notes:
        tell(f"note: {note}")


def tell_error(message: str, hint: str = "") -> None:
    """What went wrong, and what to do."""
    _errors().print(Text("error: ", style="bold red") + Text(message))
    if hint:
        tell(hint)


def error_json(error: KedgewiseError) -> dict[str, object]:
    """An error as the object that ``--json`` prints."""
    faults = error.faults if isinstance(error, FaultyFile) else ()
    return {
        "error": error.message,
        "hint": error.hint,
        "faults": [fault_json(fault) for fault in faults],
    }


def fault_json(fault: Fault) -> dict[str, object]:
    """One fault of a file as an object."""
    return {
        "source": fault.source,
        "line": fault.line,
        "column": fault.column,
        "found": fault.found,
        "remedy": fault.remedy,
    }


def with_store(text: str, option: str) -> str:
    """Text whose commands between backticks are given the option that means the same store."""
    return re.sub(r"`kedgewise (fit|import FILE)`", lambda found: f"{found[0][:-1]}{option}`", text)


@contextlib.contextmanager
def progress(start: str) -> Iterator[Callable[[float, str], None]]:
    """A progress bar on standard error; whatever a library prints meanwhile goes there too.

    Where standard error is no terminal there is no bar: `start` is said once work begins.
    """
    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    console = _errors()
    with (
        Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar,
        contextlib.redirect_stdout(sys.stderr),
    ):
        task = bar.add_task("Starting", total=1.0)
        to_say = [] if console.is_terminal else [start]

        def report(fraction: float, text: str) -> None:
            if to_say:
                console.print(to_say.pop(), markup=False)
            bar.update(task, completed=fraction, description=text)

        yield report


def _errors() -> Console:
    return Console(stderr=True, highlight=False, soft_wrap=True)


def fail(
    error: KedgewiseError, *, is_json: bool, before: Mapping[str, object] | None = None
) -> int:
    """Say what went wrong; `before` is what was done all the same, for the object."""
    if is_json and not isinstance(error, OutputFailed):
        with contextlib.suppress(OutputFailed):
            show_json({**error_json(error), **(before or {})})
    tell_error(error.message, error.hint)
    return error.exit_code
