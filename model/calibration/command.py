"""What the commands of long runs share: how they end, and numbers that they take."""

import argparse
import sys
from collections.abc import Callable
from typing import NoReturn

from model.base.errors import EXIT_BAD_INPUT, KedgewiseError


def end_with(main: Callable[[], None]) -> NoReturn:
    """Run a command; what was wrong of its input or its disk is said in one message.

    Exits with 0, with the error's own code, or with 2 for what the system refuses.
    """
    code = 0
    try:
        main()
    except (KedgewiseError, OSError) as error:
        sys.stderr.write(f"error: {error}\n")
        code = error.exit_code if isinstance(error, KedgewiseError) else EXIT_BAD_INPUT
    sys.exit(code)


def at_least_one(text: str) -> int:
    """A whole number from 1 on, of an option.

    Raises
    ------
    argparse.ArgumentTypeError
        If it is none.
    """
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 1 on")
    return int(text)
