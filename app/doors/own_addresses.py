"""Every address of this machine, with the adapter that has it."""

from model.service.private_addresses import OwnAddress


def own_addresses() -> list[OwnAddress]:
    """As the system tells them; an IPv6 one without the zone behind it."""
    import ifaddr

    return [
        OwnAddress(
            address=address.ip if isinstance(address.ip, str) else address.ip[0],
            adapter=adapter.nice_name,
        )
        for adapter in ifaddr.get_adapters()
        for address in adapter.ips
    ]
