"""What whoever looks at a page may do: the owner all, a paired device log and read."""

import os
from enum import IntEnum
from pathlib import Path
from typing import Final

import streamlit as st

from model.base.errors import InputError
from model.service.pairing_file import PairingFile

BOAT_VARIABLE: Final = "KEDGEWISE_BOAT"
"""Names the file of paired devices; set where the web app answers on a private address."""


class Rights(IntEnum):
    """Each holds what the one before it does."""

    NOTHING = 0
    LOG_AND_READ = 1
    EVERYTHING = 2


def pairing_file() -> PairingFile | None:
    """The file of paired devices; None where the web app answers on this machine alone."""
    named = os.environ.get(BOAT_VARIABLE)
    return PairingFile(Path(named)) if named else None


def cookie_name(port: int) -> str:
    """The cookie that holds a device's token; browsers do not tell ports of one address apart."""
    return f"kedgewise_device_{port}"


def rights() -> Rights:
    """What this session may do, looked up anew at each run of a page."""
    file = pairing_file()
    if file is None:
        return Rights.EVERYTHING
    return Rights.LOG_AND_READ if file.is_paired(_token()) else Rights.NOTHING


def _token() -> str | None:
    return st.context.cookies.get(cookie_name(int(st.get_option("server.port"))))


def require(needed: Rights) -> None:
    """Refuse what this session may not do.

    Raises
    ------
    InputError
        Saying so.
    """
    found = rights()
    if found is Rights.NOTHING:
        raise InputError("this device is not paired", hint="Open the address of the boat anew.")
    if found < needed:
        raise InputError(
            "a paired device may log pulls and read, and nothing else",
            hint="Correct, take out and upload on the machine that has the store.",
        )
