"""Correcting stored pulls: who, why, and what it changes."""

import getpass

from model.base.errors import InputError
from model.store.revisions import Reason


def reason_for(why: str | None, who: str | None = None) -> Reason | None:
    """The reason of a correction; None where nothing is to be corrected.

    Parameters
    ----------
    who : str or None
        The login name unless given.

    Raises
    ------
    InputError
        If it says who, and not why; or the reason is empty.
    """
    if why is None:
        if who is not None:
            raise InputError(
                f"{who!r} corrects nothing: there is no reason",
                hint='Say why with --revise "WHY".',
            )
        return None
    return Reason(who=login_name() if who is None else who.strip(), why=why.strip())


def login_name() -> str:
    """The user's login name; empty where the system knows none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""
