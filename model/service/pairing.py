"""Pairing a device with a served store: a one-time code against a token of its own.

Pure functions from one state to the next; the clock and the randomness are handed
in. A state holds hashes alone: neither a code nor a token can be read out of it.
"""

import datetime as dt
import hashlib
import hmac
import random
import secrets
from dataclasses import dataclass
from enum import StrEnum
from ipaddress import IPv6Address, ip_address, ip_network
from typing import Final

from pydantic import Field

from model.records.base import Record

CODE_LETTERS: Final = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Signs of a code: none that is taken for another on a screen (0 and O, 1 and I and L)."""
CODE_LENGTH: Final = 8
"""31 to the 8th codes, 40 bits: twenty guesses find one with a chance of 2 in 10 to the 11th."""
CODE_LASTS: Final = dt.timedelta(minutes=10)
MOST_FROM_ADDRESS: Final = 5
"""Wrong guesses from one address; then it is locked out for a while, or until the next code."""
LOCK_LASTS: Final = dt.timedelta(minutes=10)
MOST_PER_CODE: Final = 20
"""Wrong guesses of one code from all addresses; then the code is void, and a new one needed."""
DEVICE_LASTS: Final = dt.timedelta(hours=24)
"""How long a device stays paired: a day on the water; never beyond the end of `serve`."""
MOST_DEVICES: Final = 8
"""Devices at once; the one paired first makes room."""

_TOKEN_BITS: Final = 256
_LONGEST_TYPED: Final = 64
_HOST_BITS: Final = 64
"""A home network's own part of an IPv6 address: one device may use any address in it."""


class Refusal(StrEnum):
    """Why no device was paired."""

    WRONG = "the code is not right"
    NO_CODE = "no code is open: it has expired, was used, or was guessed at too often"
    LOCKED = "too many wrong codes from this address"


class Closed(StrEnum):
    """Why the last code is of no more use, time apart."""

    USED = "used"
    GUESSED = "guessed"


class Tries(Record):
    """Wrong guesses from one address, and until when they count."""

    count: int
    until: dt.datetime


class Device(Record):
    """A paired device: the hash of its token, where it came from, until when it is let in."""

    token_sha256: str
    address: str
    until: dt.datetime


class Pairing(Record):
    """Who is paired, and which code is open.

    Parameters
    ----------
    salt : str
        Hashed with each code, so that hashes of all codes cannot be made beforehand.
    code_hash : str or None
        Of the open code; None where none is.
    wrong : int
        Wrong guesses of it so far, from everywhere.
    tries : dict of str to Tries
        Wrong guesses by the address they came from.
    """

    salt: str
    code_hash: str | None = None
    code_until: dt.datetime | None = None
    closed: Closed | None = None
    wrong: int = 0
    tries: dict[str, Tries] = Field(default_factory=dict)
    devices: tuple[Device, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Offered:
    """A state with a new code in it, and the code, which is nowhere else."""

    pairing: Pairing
    code: str


@dataclass(frozen=True, kw_only=True)
class Tried:
    """What came of typing a code: a token, or a refusal."""

    pairing: Pairing
    token: str | None = None
    refusal: Refusal | None = None


def begin(rng: random.Random) -> Pairing:
    """A state with no code and no device."""
    return Pairing(salt=f"{rng.getrandbits(128):032x}")


def offer(pairing: Pairing, *, now: dt.datetime, rng: random.Random) -> Offered:
    """A new code in the place of any before it; whoever was locked out may try this one.

    Behind one router all share an address: who guesses there would else keep the owner's own
    devices out. However often that is undone, :data:`MOST_PER_CODE` bounds the guesses of a code.
    """
    code = "".join(rng.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    change = {
        "code_hash": _code_hash(pairing, code),
        "code_until": now + CODE_LASTS,
        "closed": None,
        "wrong": 0,
        "tries": {},
    }
    return Offered(pairing=pairing.model_copy(update=change), code=code)


def try_code(
    pairing: Pairing, typed: str, *, address: str, now: dt.datetime, rng: random.Random
) -> Tried:
    """Pair a device if it knows the open code.

    Parameters
    ----------
    typed : str
        As typed: small letters, spaces and hyphens do not matter.
    address : str
        Network address that the guess came from.
    """
    kept = {key: tries for key, tries in pairing.tries.items() if now < tries.until}
    pairing = pairing.model_copy(update={"tries": kept})
    source = _source_of(address)
    if source in lockouts(pairing):
        return Tried(pairing=pairing, refusal=Refusal.LOCKED)
    if not is_open(pairing, now=now):
        return Tried(pairing=pairing, refusal=Refusal.NO_CODE)
    if not _is_code(pairing, typed):
        return Tried(pairing=_guessed(pairing, source, now), refusal=Refusal.WRONG)
    token = f"{rng.getrandbits(_TOKEN_BITS):064x}"
    device = Device(token_sha256=_sha256(token), address=address, until=now + DEVICE_LASTS)
    change = {
        "code_hash": None,
        "closed": Closed.USED,
        "devices": (*pairing.devices, device)[-MOST_DEVICES:],
    }
    return Tried(pairing=pairing.model_copy(update=change), token=token)


def lockouts(pairing: Pairing) -> dict[str, dt.datetime]:
    """Addresses, or networks of them, that guessed too often, with the end of their lockout."""
    return {
        source: tries.until
        for source, tries in pairing.tries.items()
        if tries.count >= MOST_FROM_ADDRESS
    }


def is_open(pairing: Pairing, *, now: dt.datetime) -> bool:
    """Whether there is a code that would pair a device."""
    until = pairing.code_until
    return pairing.code_hash is not None and until is not None and now < until


def is_paired(pairing: Pairing, token: str | None, *, now: dt.datetime) -> bool:
    """Whether a token is that of a paired device, in a time that tells nothing of it."""
    if not token or len(token) > _TOKEN_BITS:
        return False
    found = _sha256(token)
    same = [secrets.compare_digest(found, device.token_sha256) for device in pairing.devices]
    return any(
        is_it and now < device.until for is_it, device in zip(same, pairing.devices, strict=True)
    )


def readable(code: str) -> str:
    """A code in two groups, as people read it out."""
    return f"{code[: CODE_LENGTH // 2]}-{code[CODE_LENGTH // 2 :]}"


def _is_code(pairing: Pairing, typed: str) -> bool:
    plain = "".join(sign for sign in typed[:_LONGEST_TYPED].upper() if sign.isalnum())
    return hmac.compare_digest(_code_hash(pairing, plain), pairing.code_hash or "")


def _guessed(pairing: Pairing, source: str, now: dt.datetime) -> Pairing:
    before = pairing.tries.get(source)
    count = 1 + (before.count if before else 0)
    wrong = pairing.wrong + 1
    change: dict[str, object] = {
        "wrong": wrong,
        "tries": {**pairing.tries, source: Tries(count=count, until=now + LOCK_LASTS)},
    }
    if wrong >= MOST_PER_CODE:
        change |= {"code_hash": None, "closed": Closed.GUESSED}
    return pairing.model_copy(update=change)


def _source_of(address: str) -> str:
    """What is locked out: an address, or the network that an IPv6 device picks its own from."""
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if not isinstance(found, IPv6Address):
        return str(found)
    return str(found.ipv4_mapped or ip_network((found, _HOST_BITS), strict=False))


def _code_hash(pairing: Pairing, code: str) -> str:
    # A letter that is no ASCII is no code's; what it hashes to does not matter.
    return hmac.new(pairing.salt.encode(), code.encode("utf-8", "replace"), "sha256").hexdigest()


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
