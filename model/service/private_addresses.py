"""Which address of this machine a boat's own network reaches, and no other."""

from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address, ip_network
from typing import Final

from model.base.errors import InputError

PRIVATE_NETWORKS: Final = tuple(
    ip_network(text)
    for text in (
        *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16"),  # RFC 1918
        "169.254.0.0/16",  # RFC 3927, link-local: where nothing gives out addresses
        "fc00::/7",  # RFC 4193, unique local
    )
)
"""What no router of the open internet passes on. Python's ``is_private`` holds more, such as
addresses for documents. IPv6 link-local (fe80::) is left out: it needs the name of the adapter
behind it, which browsers do not take."""

_LINK_LOCAL_6: Final = IPv6Network("fe80::/10")


@dataclass(frozen=True, kw_only=True)
class OwnAddress:
    """An address of this machine, and the adapter that has it."""

    address: str
    adapter: str

    def __str__(self) -> str:
        return f"{self.address} ({self.adapter})"


def is_private(address: str) -> bool:
    """Whether an address is one of a private network, as written without a zone."""
    found = _parsed(address)
    return found is not None and any(
        found in network for network in PRIVATE_NETWORKS if network.version == found.version
    )


def choose_private(own: Sequence[OwnAddress], wanted: str | None = None) -> str:
    """The one private address to answer on.

    Parameters
    ----------
    own : sequence of OwnAddress
        Every address of this machine.
    wanted : str or None
        The one that was asked for.

    Raises
    ------
    InputError
        If the one asked for is not private or not this machine's; if there is none,
        or there are several and none was asked for.
    """
    private = [one for one in own if is_private(one.address)]
    known = f"This machine has {', '.join(map(str, private))}." if private else _NONE_HINT
    if wanted is not None:
        return _wanted(wanted, private, known)
    if not private:
        raise InputError("this machine has no private address", hint=_NONE_HINT)
    if len(private) > 1:
        raise InputError(
            f"this machine has {len(private)} private addresses: {', '.join(map(str, private))}",
            hint="Choose the one of the boat's network: "
            f"`kedgewise serve --boat --address {private[0].address}`.",
        )
    return private[0].address


_NONE_HINT: Final = (
    "Join the boat's own network first (a phone's hotspot will do; it needs no internet), then "
    "start again."
)


def _wanted(wanted: str, private: Sequence[OwnAddress], known: str) -> str:
    found = _parsed(wanted)
    if found is not None and found in _LINK_LOCAL_6:
        raise InputError(
            f"no browser can open {wanted!r}: it needs the adapter's name behind it", hint=known
        )
    if found is None or not is_private(wanted):
        raise InputError(
            f"{wanted!r} is no private address",
            hint="There is no sign-in yet, so it answers on one address of a private network "
            f"only. {known}",
        )
    if str(found) not in {str(_parsed(one.address)) for one in private}:
        raise InputError(f"{wanted} is no address of this machine", hint=known)
    return str(found)


def _parsed(address: str) -> IPv4Address | IPv6Address | None:
    try:
        return ip_address(address)
    except ValueError:
        return None
