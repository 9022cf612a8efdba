"""The command line: its commands in the order in which a user meets them.

Everything heavy is imported where it is used, so that ``kedgewise --help``
answers at once.
"""

import os
import sys
import traceback
from collections.abc import Sequence
from typing import Final

import typer
from typer.exceptions import TyperException

from app.commands import answers, checks, copies, facts, places, planning
from app.commands.options import JSON_OPTION
from app.terminal import fail, let_every_sign_through
from model.base.errors import InputError, KedgewiseError

app = typer.Typer(
    name="kedgewise",
    help="From a log of small-boat anchor pulls to answers that say how sure they are.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
COMMANDS: Final = (
    ("demo", answers.demo, "demo --store ./hollow-sound"),
    ("new", facts.new, "new campaign.toml --store trials"),
    ("import", facts.import_logs, "import pulls.csv more-pulls.csv"),
    ("fit", answers.fit, "fit --store trials"),
    ("ask", answers.ask, 'ask --a "anchor=S6, scope=5" --b "anchor=P9, scope=5"'),
    ("modes", answers.modes, 'modes --anchor S6 --seabed "firm sand"'),
    ("next", planning.next_pull, 'next "leader in general" --without "anchor=S6"'),
    ("day", planning.day, "day --hours 5 -o day.html"),
    ("rehearse", planning.rehearse, 'rehearse "leader in general" --pulls 24'),
    ("check", checks.check, "check --refit --store trials"),
    ("stores", places.stores, "stores"),
    ("export", facts.export, "export trials.zip --store trials"),
    ("backup", copies.backup, "backup trials-2026-05-03.zip --store trials"),
    ("restore", copies.restore, "restore trials-2026-05-03.zip --store trials"),
    ("serve", places.serve, "serve --store demo --port 8502"),
    ("work", places.work, "work --store demo"),
)
"""Name, function and an example of each, in the order of the help."""

for _name, _function, _example in COMMANDS:
    app.command(name=_name, epilog=f"Example: kedgewise {_example}")(_function)

DEBUG_VARIABLE: Final = "KEDGEWISE_DEBUG"
"""Set to 1, an error nobody foresaw is shown with where it came from."""


def run(arguments: Sequence[str]) -> int:
    """Run one command line; what went wrong is said once, in the form that was asked for.

    Returns
    -------
    int
        0; 2 bad input, 3 a fit that failed its check, 1 anything else.
    """
    is_json = JSON_OPTION in arguments
    try:
        code = app(args=list(arguments), prog_name="kedgewise", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except KedgewiseError as error:
        return fail(error, is_json=is_json)
    except TyperException as error:
        if not error.format_message():  # no command: the help, printed already, is all there is
            return error.exit_code
        hint = "See `kedgewise --help`."
        if "extra argument" in error.format_message():
            hint = f"A name of several words stands in quotes. {hint}"
        found = InputError(error.format_message(), hint=hint)
        found.exit_code = error.exit_code
        return fail(found, is_json=is_json)
    except Exception as error:  # noqa: BLE001 - the last line of defence, and it says so
        if os.environ.get(DEBUG_VARIABLE) == "1":
            traceback.print_exc()
        hint = f"This is a fault of the program. With {DEBUG_VARIABLE}=1 it says where."
        return fail(KedgewiseError(f"{type(error).__name__}: {error}", hint=hint), is_json=is_json)


def main() -> None:
    """Entry point of the command ``kedgewise``."""
    let_every_sign_through()
    sys.exit(run(sys.argv[1:]))
